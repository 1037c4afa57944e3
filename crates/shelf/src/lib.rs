//! The files that every door carries inside: lessons, in the order in which they are
//! best learnt, the scenarios that each teach one idea, and the files of the gallery.
//!
//! ```
//! let juno = tidewright_shelf::lesson("juno")?;
//! assert_eq!(tidewright_shelf::lesson(&juno.number.to_string())?, juno);
//! assert!(tidewright_shelf::lesson("june").unwrap_err().to_string().contains("`juno`"));
//! let scenario = tidewright_scenario::parse(juno.id, juno.text)?;
//! assert!(scenario.training.is_some());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod lessons;
mod texts;

use std::path::Path;

use thiserror::Error;
use tidewright_scenario::fault::near;

pub use lessons::LESSONS;
pub use texts::{COHORTS, FIGURES, SCENARIOS};

/// A file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Item {
    /// Its name without its ending: the `id` that it has inside, too.
    pub id: &'static str,
    /// What stands in it.
    pub text: &'static str,
}

/// A lesson.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lesson {
    /// Its place among the lessons, from 1.
    pub number: usize,
    /// Its name, the `id` of its scenario: for who writes and marks, as it may tell what is
    /// to be found out.
    pub id: &'static str,
    /// The word by which a student knows it, which tells nothing.
    pub word: &'static str,
    /// Its file.
    pub text: &'static str,
    /// The lessons that it builds on, by their `id`; each stands before it.
    pub needs: &'static [&'static str],
}

/// A word that names nothing on the shelf, or more than one thing.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum NotFound {
    /// Several names begin so.
    #[error("`{word}` may be {}", .names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(" or "))]
    Several {
        /// The word.
        word: String,
        /// The names.
        names: Vec<&'static str>,
    },
    /// No name is so.
    #[error("there is no {kind} `{word}` inside{}", .near.map_or_else(String::new, |near| format!("; did you mean `{near}`?")))]
    Nothing {
        /// What was looked for.
        kind: &'static str,
        /// The word.
        word: String,
        /// The most similar name.
        near: Option<&'static str>,
    },
}

/// What a student sees of a lesson's `id`: its word, or the `id` itself where the lesson is
/// none of the shelf.
///
/// ```
/// assert_eq!(tidewright_shelf::shown("juno-the-loose-joint"), "juno");
/// assert_eq!(tidewright_shelf::shown("my-own"), "my-own");
/// ```
#[must_use]
pub fn shown(id: &str) -> &str {
    LESSONS.iter().find(|lesson| lesson.id == id).map_or(id, |lesson| lesson.word)
}

/// The lesson of a number, a word, a name, or the beginning of a name that no other has.
///
/// # Errors
/// [`NotFound`].
pub fn lesson(word: &str) -> Result<&'static Lesson, NotFound> {
    if let Ok(number) = word.trim().parse::<usize>() {
        let found = LESSONS.iter().find(|lesson| lesson.number == number);
        let missing = || NotFound::Nothing { kind: "lesson", word: word.to_owned(), near: None };
        return found.ok_or_else(missing);
    }
    let plain = word.trim().to_lowercase();
    if let Some(lesson) = LESSONS.iter().find(|lesson| lesson.word == plain) {
        return Ok(lesson);
    }
    found("lesson", word, &LESSONS, |lesson| lesson.id).map_err(|error| match error {
        NotFound::Several { word, names } => {
            NotFound::Several { word, names: names.into_iter().map(shown).collect() }
        }
        NotFound::Nothing { kind, word, near } => {
            NotFound::Nothing { kind, word, near: near.map(shown) }
        }
    })
}

/// The scenario of a name, or of the beginning of one.
///
/// # Errors
/// [`NotFound`].
pub fn scenario(word: &str) -> Result<&'static Item, NotFound> {
    found("scenario", word, &SCENARIOS, |item| item.id)
}

/// The figure file of a name, or of the beginning of one.
///
/// # Errors
/// [`NotFound`].
pub fn figure(word: &str) -> Result<&'static Item, NotFound> {
    found("figure", word, &FIGURES, |item| item.id)
}

/// The scenario that a figure file names by a path.
#[must_use]
pub fn scenario_of(path: &str) -> Option<&'static Item> {
    let stem = Path::new(path).file_stem()?.to_str()?;
    SCENARIOS.iter().find(|item| item.id == stem)
}

fn found<T>(
    kind: &'static str,
    word: &str,
    all: &'static [T],
    id: impl Fn(&T) -> &'static str,
) -> Result<&'static T, NotFound> {
    let name = word.trim().to_lowercase();
    let name = name.strip_suffix(".ron").unwrap_or(&name);
    if let Some(exact) = all.iter().find(|one| id(one) == name) {
        return Ok(exact);
    }
    let begin: Vec<&T> =
        all.iter().filter(|one| !name.is_empty() && id(one).starts_with(name)).collect();
    let word = word.to_owned();
    match begin[..] {
        [only] => Ok(only),
        [] => {
            // The first part of a name is what people say.
            let all: Vec<&'static str> = all.iter().map(id).collect();
            let short: Vec<&str> =
                all.iter().map(|id| id.split('-').next().unwrap_or(id)).collect();
            let meant = |known: &[&str]| {
                let near = near(name, known)?.to_owned();
                all.iter().find(|id| id.starts_with(&near)).copied()
            };
            let near = meant(&all).or_else(|| meant(&short));
            Err(NotFound::Nothing { kind, word, near })
        }
        _ => Err(NotFound::Several { word, names: begin.into_iter().map(id).collect() }),
    }
}
