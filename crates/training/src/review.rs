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

/// A lesson in its place among others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// The scenario's `id`.
    pub scenario: String,
    /// The lessons that it builds on.
    pub needs: Vec<String>,
}

/// What to do next.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Plan {
    /// What was tried before, the earliest first.
    pub due: Vec<Due>,
    /// The one new lesson that comes next: the first whose needs are passed.
    pub new: Option<Due>,
    /// How many more are new.
    pub still_new: usize,
}

fn tries<'a>(past: &'a [Past], id: &'a str) -> impl Iterator<Item = &'a Past> {
    past.iter().filter(move |one| one.scenario == id)
}

/// What to do next of a row of lessons. A lesson that was missed comes again the day
/// after; one that was passed as [`due`] says; new ones come one at a time, in order, each
/// when what it builds on was passed once.
///
/// ```
/// use tidewright_training::review::{Past, Step, plan};
/// let step = |id: &str, needs: &[&str]| Step {
///     scenario: id.to_owned(),
///     needs: needs.iter().map(|&id| id.to_owned()).collect(),
/// };
/// let steps = [step("a", &[]), step("b", &["a"]), step("c", &[])];
/// let past = |passed| [Past { scenario: "a".into(), day: 10, passed }];
/// let missed = plan(&steps, &past(false), 10);
/// assert_eq!((missed.due[0].scenario.as_str(), missed.due[0].day), ("a", 11));
/// assert_eq!(missed.new.map(|new| new.scenario), Some("c".to_owned()));
/// let passed = plan(&steps, &past(true), 10);
/// assert_eq!(passed.new.map(|new| new.scenario), Some("b".to_owned()));
/// assert_eq!(passed.still_new, 1);
/// ```
#[must_use]
pub fn plan(steps: &[Step], past: &[Past], today: u32) -> Plan {
    let tried = |id: &str| tries(past, id).next().is_some();
    let ids: Vec<&str> = steps.iter().map(|one| one.scenario.as_str()).collect();
    let known: Vec<&str> = ids.iter().copied().filter(|id| tried(id)).collect();
    let mut again = due(&known, past, today);
    for one in &mut again {
        let Some(last) = tries(past, &one.scenario).last().filter(|last| !last.passed) else {
            continue;
        };
        one.day = last.day + 1;
        one.reason = match tries(past, &one.scenario).any(|past| past.passed) {
            true => "missed the last time, passed before: again with a new seed",
            false => "not passed yet: again with a new seed",
        };
    }
    again.sort_by_key(|one| one.day);
    let is_new = |one: &&Step| !tried(&one.scenario);
    let ready = |one: &&Step| {
        let passed =
            |id: &String| !ids.contains(&id.as_str()) || tries(past, id).any(|one| one.passed);
        one.needs.iter().all(passed)
    };
    let next = steps.iter().filter(is_new).find(ready);
    // Where everything new waits for something else, the first of it.
    let next = next.or_else(|| steps.iter().find(is_new).filter(|_| again.is_empty()));
    let new = next.map(|one| Due {
        scenario: one.scenario.clone(),
        day: today,
        reason: "new, the next in order",
    });
    let still_new = steps.iter().filter(is_new).count() - usize::from(new.is_some());
    Plan { due: again, new, still_new }
}
