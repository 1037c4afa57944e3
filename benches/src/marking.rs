//! A class that hands in every shipped attempt of every lesson.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use rayon::{ThreadPool, ThreadPoolBuilder};
use tidewright_scenario::{Scenario, parse};
use tidewright_training::class::{Handed, mark_all};

use crate::study::best;

/// Copies of each attempt: enough to keep two cores busy to the end.
const COPIES: usize = 8;

/// Lessons, and what was handed in for each.
pub struct Class {
    lessons: Vec<(Arc<Scenario>, Vec<Handed>)>,
}

impl Class {
    /// Those lessons of the repository that are wanted, with all of their attempts.
    ///
    /// # Panics
    /// If the repository's own files cannot be read.
    #[must_use]
    pub fn shipped(wanted: impl Fn(&Scenario) -> bool) -> Self {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/training");
        let read = |path: &Path| fs::read_to_string(path).expect("a file of the repository");
        let paths = ron_files(&folder);
        let lessons = paths.iter().map(|path| parse("a.ron", &read(path)).expect("a valid lesson"));
        let lessons = lessons.filter(|scenario| wanted(scenario)).map(|scenario| {
            let scenario = Arc::new(scenario);
            let attempts = ron_files(&folder.join("attempts").join(scenario.id.as_str()));
            let files: Vec<Handed> = attempts
                .iter()
                .map(|path| Handed { file: path.display().to_string(), text: Ok(read(path)) })
                .collect();
            let files = std::iter::repeat_n(files, COPIES).flatten().collect();
            (scenario, files)
        });
        Self { lessons: lessons.collect() }
    }

    /// How many attempts there are.
    #[must_use]
    pub fn attempts(&self) -> usize {
        self.lessons.iter().map(|(_, files)| files.len()).sum()
    }

    /// Reads and marks all of them; how many passed.
    #[must_use]
    pub fn passed(&self) -> usize {
        self.lessons.iter().map(passed).sum()
    }

    /// The time on this many cores: the best of many for each lesson, summed, as
    /// only a short time is ever without other work of the machine.
    #[must_use]
    pub fn time(&self, count: usize, rounds: u32) -> Duration {
        let pool = cores(count);
        let lesson = |lesson| best(rounds, || pool.install(|| passed(lesson))).0;
        self.lessons.iter().map(lesson).sum()
    }
}

fn passed((scenario, files): &(Arc<Scenario>, Vec<Handed>)) -> usize {
    let rows = mark_all(scenario, files, None, None, |_| {});
    rows.iter().filter(|row| row.result == "passed").count()
}

/// A pool of this many cores.
///
/// # Panics
/// If the system gives no threads.
#[must_use]
pub fn cores(count: usize) -> ThreadPool {
    ThreadPoolBuilder::new().num_threads(count).build().expect("threads")
}

fn ron_files(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).expect("a folder of the repository");
    let paths = entries.map(|entry| entry.expect("a file of the repository").path());
    let mut files: Vec<PathBuf> =
        paths.filter(|path| path.extension().is_some_and(|end| end == "ron")).collect();
    files.sort();
    files
}
