//! Sealing with a passphrase: a key drawn from it by scrypt, and ChaCha20 with Poly1305.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use chacha20poly1305::aead::{Aead, KeyInit};
use chacha20poly1305::{ChaCha20Poly1305, Key, Nonce};
use hmac::{Hmac, Mac};
use scrypt::{Params, scrypt};
use sha2::Sha256;
use tidewright_scenario::format::{FORMAT, Id, Sealed};
use tidewright_scenario::{parse_sealed, report::BANNER};

use super::ExamError;

/// Shortest passphrase.
const SHORTEST: usize = 8;
/// Letters of a line of the sealed text.
const LINE: usize = 96;
/// How dear a guess is made: 2^15 blocks of 8 × 128 bytes, 32 MiB, once (what the authors
/// of scrypt advised for logins, from memory, and twice that).
const COST: (u8, u32, u32) = (15, 8, 1);

/// Whether a text is meant as a sealed exam: by its first line that is no comment.
#[must_use]
pub fn is_sealed(text: &str) -> bool {
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let mut lines = text.lines().map(str::trim).filter(|line| !line.starts_with("//"));
    lines.find(|line| !line.is_empty()).is_some_and(|line| line.starts_with("Sealed("))
}

pub(super) fn sealed(name: &Id, inside: &str, passphrase: &str) -> Result<String, ExamError> {
    if passphrase.chars().count() < SHORTEST {
        return Err(ExamError::Short(SHORTEST));
    }
    // The same exam with the same passphrase is the same file; the salt differs with either,
    // so no key seals two texts, and only who knows the passphrase can work it out.
    let salt = &keyed(passphrase.as_bytes(), inside.as_bytes())[..16];
    let cipher = cipher(passphrase, salt);
    let sealed = cipher.encrypt(&Nonce::default(), inside.as_bytes());
    let sealed = sealed.map_err(|_| ExamError::NotOpened)?;
    let file = Sealed {
        format: FORMAT,
        exam: name.clone(),
        salt: STANDARD.encode(salt),
        text: pieces(&STANDARD.encode(sealed)),
    };
    Ok(format!(
        "// {BANNER}\n// A sealed exam: `tidewright practise` asks for its passphrase.\n{}",
        file.to_ron()
    ))
}

pub(super) fn opened(file_name: &str, text: &str, passphrase: &str) -> Result<String, ExamError> {
    let file = parse_sealed(file_name, text)?;
    let decoded = |text: &str| STANDARD.decode(text).map_err(|_| ExamError::NotOpened);
    let cipher = cipher(passphrase, &decoded(&file.salt)?);
    let inside = cipher.decrypt(&Nonce::default(), &*decoded(&file.text.concat())?);
    let inside = inside.map_err(|_| ExamError::NotOpened)?;
    String::from_utf8(inside).map_err(|_| ExamError::NotOpened)
}

/// A text in lines that an editor can show.
fn pieces(text: &str) -> Vec<String> {
    let letters: Vec<char> = text.chars().collect();
    letters.chunks(LINE).map(|line| line.iter().collect()).collect()
}

fn cipher(passphrase: &str, salt: &[u8]) -> ChaCha20Poly1305 {
    let (log_n, r, p) = COST;
    let mut key = [0; 32];
    let params = Params::new(log_n, r, p, key.len()).expect("the cost is one that scrypt allows");
    scrypt(passphrase.as_bytes(), salt, &params, &mut key).expect("a key of 32 bytes is allowed");
    ChaCha20Poly1305::new(Key::from_slice(&key))
}

/// A keyed hash.
pub(super) fn keyed(key: &[u8], text: &[u8]) -> [u8; 32] {
    let mac = <Hmac<Sha256> as Mac>::new_from_slice(key);
    let mut mac = mac.expect("a key may have any length");
    mac.update(text);
    mac.finalize().into_bytes().into()
}
