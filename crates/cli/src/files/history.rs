//! Past attempts, kept in the user's data folder: scenario, day, passed or not, the
//! pseudonym, what was missed. No name, nothing leaves the machine, and one option removes it.

use std::fs;
use std::io::{self, Write as _};
use std::path::PathBuf;
use std::time::{SystemTime, UNIX_EPOCH};

use tidewright_training::review::Past;

use crate::files::input::shown;
use crate::files::output::unwritable;
use crate::files::problem::Problem;

/// Whose attempts are that no pseudonym was given for.
pub const NOBODY: &str = "student";

/// Where the history is: the data folder of the system, or of `TIDEWRIGHT_DATA`.
pub fn file() -> Option<PathBuf> {
    let of = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let folder = of("TIDEWRIGHT_DATA")
        .or_else(|| of("XDG_DATA_HOME").map(|folder| folder.join("tidewright")))
        .or_else(|| of("APPDATA").map(|folder| folder.join("tidewright")))
        .or_else(|| of("HOME").map(|home| home.join(".local/share/tidewright")))?;
    Some(folder.join("attempts.csv"))
}

/// Days since 1970.
pub fn today() -> u32 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    u32::try_from(since.as_secs() / 86_400).unwrap_or(u32::MAX)
}

/// A past attempt of somebody.
#[derive(Debug)]
pub struct Kept {
    pub pseudonym: String,
    pub past: Past,
    /// The strands of which something was missed.
    pub missed: String,
}

/// Every past attempt, in order of time. A line that cannot be read is left out.
pub fn read() -> Vec<Kept> {
    let text = file().and_then(|file| fs::read_to_string(file).ok()).unwrap_or_default();
    let past = |line: &str| {
        let mut cells = line.split(',');
        let scenario = cells.next()?.to_owned();
        let day = cells.next()?.parse().ok()?;
        let passed = cells.next()? == "passed";
        let pseudonym = cells.next().unwrap_or(NOBODY).to_owned();
        let missed = cells.next().unwrap_or_default().to_owned();
        Some(Kept { pseudonym, past: Past { scenario, day, passed }, missed })
    };
    text.lines().filter_map(past).collect()
}

/// Adds an attempt.
pub fn add(pseudonym: &str, past: &Past, missed: &str) -> Result<(), Problem> {
    let Some(file) = file() else { return Ok(()) };
    let wrong = |error: io::Error| Problem::from(unwritable(&shown(&file), &error));
    if let Some(folder) = file.parent() {
        fs::create_dir_all(folder).map_err(wrong)?;
    }
    let result = if past.passed { "passed" } else { "not passed" };
    let mut open = fs::OpenOptions::new().create(true).append(true).open(&file).map_err(wrong)?;
    // One write: two sessions that end at once do not mix their lines.
    let line = format!("{},{},{result},{pseudonym},{missed}\n", past.scenario, past.day);
    open.write_all(line.as_bytes()).map_err(wrong)
}

/// Removes the history; whether there was one.
pub fn forget() -> Result<bool, Problem> {
    let Some(file) = file() else { return Ok(false) };
    match fs::remove_file(&file) {
        Ok(()) => Ok(true),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(false),
        Err(error) => Err(unwritable(&shown(&file), &error).into()),
    }
}
