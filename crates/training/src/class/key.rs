//! The key of a class: what each student was dealt, written and read again, and
//! compared with a log.

use serde::Serialize;
use thiserror::Error;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Attempt, Dealt, Id};

use super::where_and_why;

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
}

/// A file that is no key.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum KeyError {
    /// Not comma-separated values.
    #[error("line {line}: {reason}")]
    Csv {
        /// The line.
        line: u64,
        /// What is wrong.
        reason: String,
    },
    /// A column is missing.
    #[error("the first line must name a column `{0}`")]
    NoColumn(&'static str),
    /// Something that is no number stands where one must.
    #[error("line {line}: `{found}` in the column `{column}` is no number that can be dealt")]
    NoNumber {
        /// The line.
        line: u64,
        /// The column.
        column: &'static str,
        /// What stands there.
        found: String,
    },
    /// A pseudonym that is there twice.
    #[error("line {line}: `{found}` is there twice")]
    Twice {
        /// The line.
        line: u64,
        /// The pseudonym.
        found: String,
    },
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
        let drawn = training.and_then(|training| crate::draw::draw(training, seed));
        let own = Dealt { weight_kg: scenario.patient.weight_kg, severity_factor: 1.0 };
        let Dealt { weight_kg, severity_factor } = dealt.cloned().unwrap_or(own);
        Self {
            pseudonym: pseudonym.to_string(),
            seed,
            weight_kg,
            severity_factor,
            case: drawn.as_ref().map(|drawn| drawn.case.says.clone()),
            onset_s: drawn.as_ref().map(|drawn| (10.0 * drawn.onset_s).round() / 10.0),
        }
    }
}

/// Reads the key of a class, as [`to_csv`](super::to_csv) wrote it.
///
/// # Errors
/// [`KeyError`] with the line.
///
/// ```
/// use tidewright_training::class::{deal, keys, roster, to_csv};
/// let text = include_str!("../../../../scenarios/training/juno-the-loose-joint.ron");
/// let scenario = tidewright_scenario::parse("juno.ron", text)?;
/// let dealt = deal(&scenario, &roster("pseudonym\nheron-1\nheron-2\n")?, 9);
/// let written: Vec<_> = dealt.into_iter().map(|(_, key)| key).collect();
/// assert_eq!(keys(&to_csv(&written))?, written);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn keys(text: &str) -> Result<Vec<Key>, KeyError> {
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
    let not_csv = |error: &csv::Error| {
        let (line, reason) = where_and_why(error);
        KeyError::Csv { line, reason }
    };
    let headers = reader.headers().map_err(|error| not_csv(&error))?.clone();
    let column = |column: &'static str| {
        let found = headers.iter().position(|name| name == column);
        found.map(|index| (index, column)).ok_or(KeyError::NoColumn(column))
    };
    let (pseudonym, seed) = (column("pseudonym")?, column("seed")?);
    let (weight_kg, factor) = (column("weight_kg")?, column("severity_factor")?);
    let (case, onset_s) = (column("case")?, column("onset_s")?);
    let mut keys: Vec<Key> = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| not_csv(&error))?;
        let line = record.position().map_or(0, csv::Position::line);
        let cell = |(index, _): (usize, &'static str)| record.get(index).unwrap_or_default();
        let no_number = |column: (usize, &'static str)| KeyError::NoNumber {
            line,
            column: column.1,
            found: cell(column).to_owned(),
        };
        let number = |column| {
            let number: Option<f64> = cell(column).parse().ok();
            number.filter(|number| number.is_finite()).ok_or_else(|| no_number(column))
        };
        let found = cell(pseudonym).to_owned();
        if keys.iter().any(|key| key.pseudonym == found) {
            return Err(KeyError::Twice { line, found });
        }
        let some = |column| Some(cell(column)).filter(|cell| !cell.is_empty());
        keys.push(Key {
            pseudonym: found,
            seed: cell(seed).parse().map_err(|_| no_number(seed))?,
            weight_kg: number(weight_kg)?,
            severity_factor: number(factor)?,
            case: some(case).map(str::to_owned),
            onset_s: some(onset_s).map(|_| number(onset_s)).transpose()?,
        });
    }
    Ok(keys)
}

/// How a log stands to the key: [`AS_DEALT`], or what differs. Nothing in it says how
/// a difference came about.
pub(super) fn compared(keys: &[Key], scenario: &Scenario, attempt: &Attempt) -> String {
    let known = keys.iter().find(|key| key.pseudonym == attempt.pseudonym.as_str());
    let Some(dealt) = known else {
        return "the key has no such pseudonym".to_owned();
    };
    let log = Key::of(scenario, &attempt.pseudonym, attempt.seed, attempt.dealt.as_ref());
    if log == *dealt {
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
