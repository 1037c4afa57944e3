//! A module without what no browser reads: notes that libraries leave for tools.

use super::PackError;

/// Bytes before the first part: a mark and a version.
const HEAD: usize = 8;
/// The kind of a part that is only a note.
const NOTE: u8 = 0;

/// The module without its notes.
pub fn without_notes(module: &[u8]) -> Result<Vec<u8>, PackError> {
    let broken = || PackError::Build("it is no module".to_owned());
    let mut kept = module.get(..HEAD).ok_or_else(broken)?.to_vec();
    let mut at = HEAD;
    while let Some(&kind) = module.get(at) {
        let (size, start) = number(module, at + 1).ok_or_else(broken)?;
        let end = start.checked_add(size).ok_or_else(broken)?;
        let part = module.get(at..end).ok_or_else(broken)?;
        if kind != NOTE {
            kept.extend_from_slice(part);
        }
        at = end;
    }
    Ok(kept)
}

/// A number in groups of seven bits, the lowest first, and where it ends.
fn number(module: &[u8], mut at: usize) -> Option<(usize, usize)> {
    let mut value = 0_usize;
    for shift in (0..32).step_by(7) {
        let byte = *module.get(at)?;
        value |= usize::from(byte & 0x7f) << shift;
        at += 1;
        if byte & 0x80 == 0 {
            return Some((value, at));
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_are_left_out_and_what_is_no_module_is_told() {
        let head = b"\0asm\x01\0\0\0";
        let long = [&[5, 0x80, 1][..], &[7; 128]].concat();
        let with =
            [&head[..], &[NOTE, 3, 1, b'n', 9], &[1, 2, 8, 9], &[NOTE, 1, 0], &long].concat();
        let without = without_notes(&with).expect("a module");
        assert_eq!(without, [&head[..], &[1, 2, 8, 9], &long].concat());
        assert_eq!(without_notes(&without).expect("a module"), without);
        for broken in [&b"\0as"[..], &[&head[..], &[1, 9, 0]].concat(), &[&head[..], &[1]].concat()]
        {
            assert!(without_notes(broken).is_err());
        }
    }
}
