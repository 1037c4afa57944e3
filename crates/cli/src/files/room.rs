//! Whether disk and memory can hold what a command is about to make.

use std::fs;
use std::path::Path;

use crate::files::input::{STANDARD, shown};
use crate::files::problem::Problem;

/// Refuses what the disk of a target has no room for.
pub fn on_disk(target: &Path, more_bytes: u64, mend: &str) -> Result<(), Problem> {
    let other = |kind: fs::Metadata| !kind.is_file() && !kind.is_dir();
    if target == Path::new(STANDARD) || fs::metadata(target).is_ok_and(other) {
        return Ok(());
    }
    let folder = target.parent().filter(|folder| !folder.as_os_str().is_empty());
    match fs4::available_space(folder.unwrap_or(Path::new("."))) {
        Ok(room) if more_bytes > room => Err(Problem::Write {
            what: format!(
                "{} needs some {} more, and there is room for {}",
                shown(target),
                size(more_bytes),
                size(room)
            ),
            mend: Some(format!("choose another disk, or {mend}")),
        }),
        // Where the room is not known, writing tells.
        _ => Ok(()),
    }
}

/// Refuses what this machine has not the memory for.
pub fn in_memory(what: &str, bytes: u64, mend: &str) -> Result<(), Problem> {
    match available() {
        Some(room) if bytes > room => {
            let what =
                format!("{what} take some {} of memory, and {} are free", size(bytes), size(room));
            Err(Problem::usage(what, mend))
        }
        _ => Ok(()),
    }
}

/// The memory that the system can give, where it tells.
fn available() -> Option<u64> {
    let told = fs::read_to_string("/proc/meminfo").ok()?;
    let line = told.lines().find_map(|line| line.strip_prefix("MemAvailable:"))?;
    line.split_whitespace().next()?.parse::<u64>().ok().map(|kib| 1024 * kib)
}

/// A number of bytes as a person reads it.
pub fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} bytes"),
        1_000..10_000_000 => format!("{} kB", bytes / 1_000),
        _ => format!("{} MB", bytes / 1_000_000),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_disk_or_memory_cannot_hold_is_refused_with_both_numbers() {
        let target = std::env::temp_dir().join("rows.csv");
        on_disk(&target, 1, "take fewer").unwrap();
        let refused = on_disk(&target, u64::MAX, "take fewer").unwrap_err().to_string();
        assert!(refused.contains("18446744073709 MB more"), "{refused}");
        on_disk(Path::new(STANDARD), u64::MAX, "take fewer").unwrap();
        in_memory("1 row", 1, "take fewer").unwrap();
        assert!(available().is_none() || in_memory("rows", u64::MAX, "take fewer").is_err());
    }

    #[test]
    fn sizes_are_read_with_their_unit() {
        let said = [999, 340_000, 9_999_999, 10_000_000].map(size);
        assert_eq!(said, ["999 bytes", "340 kB", "9999 kB", "10 MB"]);
    }
}
