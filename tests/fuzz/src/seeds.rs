//! The files that changes begin with: what the project ships.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

/// A lesson and the logs of its attempts.
pub struct Lesson {
    /// The scenario's text.
    pub text: String,
    /// The logs.
    pub attempts: Vec<String>,
}

/// Scenarios without a lesson.
pub static SCENARIOS: LazyLock<Vec<String>> = LazyLock::new(|| texts("scenarios"));

/// Lessons.
pub static LESSONS: LazyLock<Vec<Lesson>> = LazyLock::new(|| {
    let files = files(&root().join("scenarios/training"));
    let lesson = |file: &PathBuf| {
        let id = file.file_stem().unwrap_or_default();
        let attempts = root().join("scenarios/training/attempts").join(id);
        Lesson {
            text: text(file),
            attempts: self::files(&attempts).iter().map(|file| text(file)).collect(),
        }
    };
    files.iter().map(lesson).collect()
});

/// Figure files, with the texts of their scenarios.
pub static FIGURES: LazyLock<Vec<(String, String)>> = LazyLock::new(|| {
    let folder = root().join("figures");
    let with_scenario = |file: &PathBuf| {
        let figure = text(file);
        let parsed = tidewright_figures::FigureFile::parse("figure.ron", &figure).ok()?;
        Some((figure, fs::read_to_string(folder.join(&parsed.scenario)).ok()?))
    };
    files(&folder).iter().filter_map(with_scenario).collect()
});

/// Cohort files.
pub static COHORTS: LazyLock<Vec<String>> = LazyLock::new(|| texts("scenarios/cohorts"));

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn texts(folder: &str) -> Vec<String> {
    files(&root().join(folder)).iter().map(|file| text(file)).collect()
}

fn text(file: &Path) -> String {
    fs::read_to_string(file).expect("the project's own files can be read")
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).expect("the project's own folders can be read");
    let paths = entries.flatten().map(|entry| entry.path());
    let mut files: Vec<PathBuf> =
        paths.filter(|path| path.extension().is_some_and(|ending| ending == "ron")).collect();
    files.sort();
    files
}
