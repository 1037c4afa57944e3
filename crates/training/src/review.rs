//! What to do next: reviews that come after growing gaps.

use serde::Serialize;

/// Days after a passed lesson at which it comes again: about 2, 7 and 21 (a
/// simple growing series; equal gaps serve about as well).
pub const GAPS_DAYS: [u32; 3] = [2, 7, 21];

/// A past attempt, as far as reviews need it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Past {
    /// The scenario's `id`.
    pub scenario: String,
    /// Day of the attempt, counted from any fixed day.
    pub day: u32,
    /// Whether it passed.
    pub passed: bool,
}

/// A lesson and when it is due.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Due {
    /// The scenario's `id`.
    pub scenario: String,
    /// The day on which it is due.
    pub day: u32,
    /// Why.
    pub reason: &'static str,
}

/// When each lesson is due, the earliest first; of equal days in the order of
/// the lessons. `past` in order of time.
///
/// A lesson never tried or not passed is due today; after passes on n
/// different days, none failed between, it comes again after the n-th of
/// [`GAPS_DAYS`], and after the last no more.
///
/// ```
/// use tidewright_training::review::{Past, due};
/// let past = [Past { scenario: "a".into(), day: 10, passed: true }];
/// let due = due(&["a", "b"], &past, 11);
/// assert_eq!((due[0].scenario.as_str(), due[0].day), ("b", 11));
/// assert_eq!((due[1].scenario.as_str(), due[1].day), ("a", 12));
/// let again = [past[0].clone(), past[0].clone()];
/// assert_eq!(tidewright_training::review::due(&["a"], &again, 11)[0].day, 12);
/// ```
#[must_use]
pub fn due(lessons: &[&str], past: &[Past], today: u32) -> Vec<Due> {
    let mut all: Vec<Due> = lessons
        .iter()
        .filter_map(|&lesson| {
            let tries: Vec<&Past> = past.iter().filter(|past| past.scenario == lesson).collect();
            let mut days: Vec<u32> =
                tries.iter().rev().take_while(|past| past.passed).map(|past| past.day).collect();
            // What is passed twice on one day has not been kept any longer.
            days.dedup();
            let passes = days.len();
            let due = |day, reason| Some(Due { scenario: lesson.to_owned(), day, reason });
            match (tries.last(), passes) {
                (None, _) => due(today, "not tried yet"),
                (Some(_), 0) => due(today, "not passed yet: try again with a new seed"),
                (Some(last), n) => {
                    let gap = GAPS_DAYS.get(n - 1)?;
                    due(last.day + gap, "to keep it")
                }
            }
        })
        .collect();
    all.sort_by_key(|due| due.day);
    all
}
