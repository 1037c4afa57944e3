//! The key of a class: what each student was dealt, written and read again, and
//! compared with a log.

use serde::Serialize;
use tidewright_scenario::format::{Attempt, Dealt, Id};
use tidewright_scenario::{Scenario, cell, visible};

use crate::exam::Exam;

use super::table::{Line, TableError, TableFault, quoted, read};

/// What is said of a log that is as it was dealt.
pub const AS_DEALT: &str = "as dealt";

/// What the educator keeps.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Key {
    /// The student's pseudonym.
    pub pseudonym: String,
    /// The seed.
    pub seed: u32,
    /// The patient's weight, kg.
    pub weight_kg: f64,
    /// What the odds of each severity are multiplied by.
    pub severity_factor: f64,
    /// The case that it draws.
    pub case: Option<String>,
    /// Its onset to a tenth of a second, s.
    pub onset_s: Option<f64>,
    /// The sealed exam, where it was dealt as one: its neutral name, and the secret that
    /// chains its log.
    #[serde(skip)]
    pub sealed: Option<(String, String)>,
}

/// What the educator keeps of a student's sealed exam: a [`Key`] that marks it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SealedKey {
    /// The student's pseudonym.
    pub pseudonym: String,
    /// The seed.
    pub seed: u32,
    /// The patient's weight, kg.
    pub weight_kg: f64,
    /// What the odds of each severity are multiplied by.
    pub severity_factor: f64,
    /// The case that it draws.
    pub case: Option<String>,
    /// Its onset to a tenth of a second, s.
    pub onset_s: Option<f64>,
    /// The neutral name of the exam.
    pub exam: String,
    /// The secret that chains its log.
    pub secret: String,
}

impl SealedKey {
    /// The key of an exam of this lesson.
    #[must_use]
    pub fn of(lesson: &Scenario, exam: &Exam) -> Self {
        let key = Key::of(lesson, &exam.pseudonym, exam.seed, exam.dealt.as_ref());
        let Key { pseudonym, seed, weight_kg, severity_factor, case, onset_s, .. } = key;
        let (exam, secret) = (exam.name.to_string(), exam.secret.clone());
        Self { pseudonym, seed, weight_kg, severity_factor, case, onset_s, exam, secret }
    }
}

impl Key {
    /// What follows from a seed and what was dealt with it.
    pub(super) fn of(
        scenario: &Scenario,
        pseudonym: &Id,
        seed: u32,
        dealt: Option<&Dealt>,
    ) -> Self {
        let training = scenario.training.as_ref();
        let drawn = training.and_then(|training| crate::case::draw::draw(training, seed));
        let own = Dealt { weight_kg: scenario.patient.weight_kg, severity_factor: 1.0 };
        let Dealt { weight_kg, severity_factor } = dealt.cloned().unwrap_or(own);
        Self {
            pseudonym: pseudonym.to_string(),
            seed,
            weight_kg,
            severity_factor,
            case: drawn.as_ref().map(|drawn| cell(&drawn.case.says).into_owned()),
            onset_s: drawn.as_ref().map(|drawn| (10.0 * drawn.onset_s).round() / 10.0),
            sealed: None,
        }
    }
}

/// Reads the key of a class, as [`to_csv`](super::to_csv) wrote it, or as a spreadsheet
/// saved it again: parted by commas, semicolons or tabs, then with decimal commas too.
///
/// # Errors
/// [`TableError`] with every fault and its line.
///
/// ```
/// use tidewright_training::class::{deal, keys, roster, to_csv};
/// let text = tidewright_shelf::lesson("juno")?.text;
/// let scenario = tidewright_scenario::parse("juno.ron", text)?;
/// let dealt = deal(&scenario, &roster("pseudonym\nheron-1\nheron-2\n")?, 9);
/// let written: Vec<_> = dealt.into_iter().map(|(_, key)| key).collect();
/// assert_eq!(keys(&to_csv(&written))?, written);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn keys(text: &str) -> Result<Vec<Key>, TableError> {
    const COLUMNS: [&str; 6] =
        ["pseudonym", "seed", "weight_kg", "severity_factor", "case", "onset_s"];
    // A key of practice has no such columns.
    let sealed: std::collections::BTreeMap<String, (String, String)> =
        read(text, &["pseudonym", "exam", "secret"], &mut Vec::new())
            .into_iter()
            .filter_map(|line| match <[String; 3]>::try_from(line.cells) {
                Ok([pseudonym, exam, secret]) => {
                    Some((pseudonym.to_ascii_lowercase(), (exam, secret)))
                }
                Err(_) => None,
            })
            .collect();
    let mut faults = Vec::new();
    let mut known = std::collections::BTreeMap::new();
    let mut keys: Vec<Key> = Vec::new();
    for Line { line, cells } in read(text, &COLUMNS, &mut faults) {
        let mut note = |what| faults.push(TableFault { line, what });
        let [pseudonym, seed, weight_kg, factor, case, onset_s] = &cells[..] else { continue };
        let mut no_number = |column: &str, cell: &str| {
            let found = quoted(cell);
            note(format!("`{found}` in the column `{column}` is no number that can be dealt"));
        };
        // No weight, factor or time that is dealt is below 0.
        let mut number = |column: &str, cell: &str| {
            let number = cell.replace(',', ".").parse::<f64>().ok();
            let number = number.filter(|number| number.is_finite() && *number >= 0.0);
            if number.is_none() {
                no_number(column, cell);
            }
            number
        };
        let (weight_kg, severity_factor) =
            (number("weight_kg", weight_kg), number("severity_factor", factor));
        let onset_s = match onset_s.is_empty() {
            true => Some(None),
            false => number("onset_s", onset_s).map(Some),
        };
        let whole = seed.parse::<u32>().ok();
        if whole.is_none() {
            no_number("seed", seed);
        }
        if visible(case) != *case {
            let found = quoted(case);
            note(format!("`{found}` in the column `case` holds a hidden character"));
        }
        let Ok(pseudonym) = crate::command::pseudonym(&pseudonym.to_ascii_lowercase()) else {
            note(format!("`{}` is no pseudonym that can be dealt", quoted(pseudonym)));
            continue;
        };
        let pseudonym = pseudonym.to_string();
        if let Some(first) = known.insert(pseudonym.clone(), line) {
            note(format!("`{pseudonym}` is there twice: line {first} has it too"));
            continue;
        }
        let (Some(seed), Some(weight_kg)) = (whole, weight_kg) else { continue };
        let (Some(severity_factor), Some(onset_s)) = (severity_factor, onset_s) else { continue };
        // A spreadsheet that saved the key may have left out what it did not show.
        let case = Some(cell(case).into_owned()).filter(|case| !case.is_empty());
        let sealed = sealed.get(&pseudonym).cloned();
        keys.push(Key { pseudonym, seed, weight_kg, severity_factor, case, onset_s, sealed });
    }
    if keys.is_empty() && faults.is_empty() {
        faults.push(TableFault {
            line: 1,
            what: "it names nobody: take the key that dealing the class wrote".to_owned(),
        });
    }
    faults.sort_by_key(|fault| fault.line);
    if faults.is_empty() { Ok(keys) } else { Err(TableError(faults)) }
}

/// How a log stands to the key: [`AS_DEALT`], or what differs. Nothing in it says how
/// a difference came about.
pub(super) fn compared(keys: &[Key], scenario: &Scenario, attempt: &Attempt) -> String {
    let known = keys.iter().find(|key| key.pseudonym == attempt.pseudonym.as_str());
    let Some(dealt) = known else {
        return "the key has no such pseudonym".to_owned();
    };
    let log = Key::of(scenario, &attempt.pseudonym, attempt.seed, attempt.dealt.as_ref());
    if log == (Key { sealed: None, ..dealt.clone() }) {
        return AS_DEALT.to_owned();
    }
    let mut differs = Vec::new();
    if log.seed != dealt.seed {
        differs.push(format!("seed {}, dealt was {}", log.seed, dealt.seed));
    }
    if log.weight_kg != dealt.weight_kg {
        let (log, dealt) = (log.weight_kg, dealt.weight_kg);
        differs.push(format!("patient of {log} kg, dealt was {dealt} kg"));
    }
    if log.severity_factor != dealt.severity_factor {
        let (log, dealt) = (log.severity_factor, dealt.severity_factor);
        differs.push(format!("severity factor {log}, dealt was {dealt}"));
    }
    if (&log.case, log.onset_s) != (&dealt.case, dealt.onset_s) {
        let [log, dealt] = [log, dealt.clone()].map(|key| match (key.case, key.onset_s) {
            (Some(case), Some(onset_s)) => format!("`{case}` at {onset_s} s"),
            _ => "no case".to_owned(),
        });
        differs.push(format!("its seed draws {log}, dealt was {dealt}"));
    }
    differs.join("; ")
}
