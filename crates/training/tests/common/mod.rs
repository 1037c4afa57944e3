//! The shipped lessons and their attempts.
#![allow(clippy::unwrap_used, dead_code, reason = "shared by several tests")]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use tidewright_scenario::{Attempt, Scenario, parse, parse_attempt};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios/training")
}

fn ron_files(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut files: Vec<PathBuf> =
        entries.filter(|path| path.extension().is_some_and(|end| end == "ron")).collect();
    files.sort();
    files
}

/// The files of all lessons.
pub fn lessons() -> Vec<PathBuf> {
    ron_files(&folder())
}

pub fn lesson(path: &Path) -> Arc<Scenario> {
    let text = fs::read_to_string(path).unwrap();
    Arc::new(parse(path.to_str().unwrap(), &text).unwrap_or_else(|rejected| {
        let fault = &rejected.faults()[0];
        panic!("{rejected} line {}: {fault}", rejected.place(fault).line)
    }))
}

pub struct Try {
    pub name: String,
    /// What the file says the attempt fails for.
    pub fails: Option<String>,
    pub attempt: Attempt,
}

pub fn tries(scenario: &Scenario) -> Vec<Try> {
    let files = ron_files(&folder().join("attempts").join(scenario.id.as_str()));
    let read = |path: &PathBuf| {
        let text = fs::read_to_string(path).unwrap();
        let attempt = parse_attempt(path.to_str().unwrap(), &text).unwrap_or_else(|rejected| {
            panic!("{}: {rejected} {}", path.display(), rejected.faults()[0])
        });
        let fails = text.lines().next().unwrap().strip_prefix("// fails: ").map(str::to_owned);
        Try { name: path.file_stem().unwrap().to_str().unwrap().to_owned(), fails, attempt }
    };
    files.iter().map(read).collect()
}

/// The attempts of a lesson that must pass, whoever the patient.
pub fn experts(scenario: &Scenario) -> Vec<Attempt> {
    let tries = tries(scenario).into_iter().filter(|one| one.name.starts_with("expert"));
    tries.map(|one| one.attempt).collect()
}
