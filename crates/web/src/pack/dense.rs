//! Bytes as letters that any page may hold, more densely than base 64: 13 bits in two
//! letters of 91, none of which means anything to HTML. A twelfth less to send.

/// The letters: printable ASCII without `&`, `<` and `>`.
fn letters() -> impl Iterator<Item = u8> {
    (b'!'..=b'~').filter(|letter| !b"&<>".contains(letter))
}

/// The bytes as letters, the lowest bits first; `page/engine.js` reads them back.
pub fn dense(bytes: &[u8]) -> String {
    let letters: Vec<char> = letters().map(char::from).collect();
    let mut text = String::with_capacity(bytes.len() * 5 / 4);
    let (mut held, mut bits) = (0_u32, 0);
    let mut put = |held: u32| {
        let two = (held & 0x1fff) as usize;
        text.extend([letters[two / 91], letters[two % 91]]);
    };
    for &byte in bytes {
        held |= u32::from(byte) << bits;
        bits += 8;
        if bits >= 13 {
            put(held);
            held >>= 13;
            bits -= 13;
        }
    }
    if bits > 0 {
        put(held);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_back(text: &str, length: usize) -> Vec<u8> {
        let value = |letter: u8| letters().position(|one| one == letter).expect("a letter") as u32;
        let (mut bytes, mut held, mut bits) = (Vec::new(), 0_u32, 0);
        for two in text.as_bytes().chunks(2) {
            held |= (value(two[0]) * 91 + value(two[1])) << bits;
            bits += 13;
            while bits >= 8 {
                bytes.push((held & 0xff) as u8);
                held >>= 8;
                bits -= 8;
            }
        }
        bytes.truncate(length);
        bytes
    }

    #[test]
    fn what_is_written_densely_is_read_back_and_means_nothing_to_a_page() {
        assert_eq!(letters().count(), 91);
        for length in [0, 1, 2, 12, 13, 14, 1000] {
            let bytes: Vec<u8> = (0..length).map(|i| (i * i * 31 + i / 7) as u8).collect();
            let text = dense(&bytes);
            assert_eq!(read_back(&text, length), bytes);
            assert!(text.len() <= length * 16 / 13 + 2);
            assert!(text.bytes().all(|letter| letters().any(|one| one == letter)));
        }
    }
}
