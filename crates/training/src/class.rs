//! A class: a file for every student, and every attempt marked.

mod key;
mod marks;

use serde::Serialize;
use thiserror::Error;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Attempt, Dealt, Id};

pub use key::{AS_DEALT, Key, KeyError, keys};
pub use marks::{ClassRow, Handed, mark_all};

use crate::varied::vary;

/// What a student gets: the pseudonym, the seed that draws the case, and a patient
/// and severities of one's own. The key stays with the educator; the seed hides the
/// case, it does not lock it away.
#[derive(Clone, Debug, PartialEq)]
pub struct Hand {
    /// The student's pseudonym.
    pub pseudonym: Id,
    /// The seed of the session.
    pub seed: u32,
    /// Weight and severities, where the lesson varies them.
    pub dealt: Option<Dealt>,
}

/// A roster that cannot be used.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum RosterError {
    /// Not comma-separated values.
    #[error("line {line}: {reason}")]
    Csv {
        /// The line.
        line: u64,
        /// What is wrong.
        reason: String,
    },
    /// There is no column of pseudonyms.
    #[error("the first line must name a column `pseudonym`")]
    NoColumn,
    /// There is no line below the first.
    #[error("it names nobody: write a pseudonym on each line below the first")]
    Nobody,
    /// A pseudonym that is none, or one that is there twice.
    #[error("line {line}: `{found}` is {reason}")]
    Pseudonym {
        /// The line.
        line: u64,
        /// What stands there.
        found: String,
        /// Why not.
        reason: &'static str,
    },
}

/// Reads the pseudonyms of a roster: the column `pseudonym` of a CSV.
///
/// # Errors
/// [`RosterError`] with the line.
pub fn roster(text: &str) -> Result<Vec<Id>, RosterError> {
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
    let not_csv = |error: &csv::Error| {
        let (line, reason) = where_and_why(error);
        RosterError::Csv { line, reason }
    };
    let headers = reader.headers().map_err(|error| not_csv(&error))?;
    let column = headers.iter().position(|name| name == "pseudonym");
    let column = column.ok_or(RosterError::NoColumn)?;
    let mut ids: Vec<Id> = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| not_csv(&error))?;
        let line = record.position().map_or(0, csv::Position::line);
        let found = record.get(column).unwrap_or_default().to_owned();
        let id = crate::command::pseudonym(&found).map_err(|_| RosterError::Pseudonym {
            line,
            found: found.clone(),
            reason: "no pseudonym: use small letters, digits and hyphens, never a name",
        })?;
        if ids.contains(&id) {
            return Err(RosterError::Pseudonym { line, found, reason: "there twice" });
        }
        ids.push(id);
    }
    if ids.is_empty() { Err(RosterError::Nobody) } else { Ok(ids) }
}

/// The line of what is no comma-separated value, and what is wrong with it.
fn where_and_why(error: &csv::Error) -> (u64, String) {
    (error.position().map_or(1, csv::Position::line), error.to_string())
}

/// Deals a hand to every student of a roster.
///
/// All of it follows from the class seed and the pseudonym, so a student who joins
/// later changes nobody else's.
#[must_use]
pub fn deal(scenario: &Scenario, roster: &[Id], class_seed: u32) -> Vec<(Hand, Key)> {
    let deal = |id: &Id| {
        let seed = seed_of(class_seed, id.as_str());
        let dealt = vary(scenario, seed);
        let key = Key::of(scenario, id, seed, dealt.as_ref());
        (Hand { pseudonym: id.clone(), seed, dealt }, key)
    };
    roster.iter().map(deal).collect()
}

impl Hand {
    /// The file that the student begins with: an attempt in which nothing is done.
    #[must_use]
    pub fn to_attempt(&self, scenario: &Scenario) -> Attempt {
        Attempt {
            format: 1,
            scenario: scenario.id.clone(),
            seed: self.seed,
            engine: env!("CARGO_PKG_VERSION").to_owned(),
            pseudonym: self.pseudonym.clone(),
            dealt: self.dealt.clone(),
            ended_at_s: 0.0,
            acts: Vec::new(),
        }
    }
}

/// 32-bit FNV-1a over the class seed and the pseudonym.
fn seed_of(class_seed: u32, pseudonym: &str) -> u32 {
    let bytes = class_seed.to_le_bytes().into_iter().chain(pseudonym.bytes());
    bytes.fold(0x811c_9dc5, |hash, byte| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193))
}

/// Rows as comma-separated values.
#[must_use]
pub fn to_csv(rows: &[impl Serialize]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.serialize(row).expect("texts and numbers can always be written");
    }
    let bytes = writer.into_inner().expect("a list of bytes takes all that is written");
    String::from_utf8_lossy(&bytes).into_owned()
}
