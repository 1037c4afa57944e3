//! Exams: a lesson as a student gets it, which holds nothing that marks, sealed with a
//! passphrase; and a log whose acts are chained, so that a change of it shows.
//!
//! The key stays with the teacher. A log is no proof of who sat there, and whoever has the
//! passphrase and writes programs can open what is sealed: it keeps honest people honest.
//!
//! ```
//! use std::sync::Arc;
//! use tidewright_training::exam::{Exam, is_sealed};
//! use tidewright_training::{Session, command};
//! let text = tidewright_shelf::lesson("juno")?.text;
//! let lesson = tidewright_scenario::parse("juno.ron", text)?;
//! let exam = Exam::of(&lesson, command::pseudonym("heron-1")?, 4)?;
//! let sealed = exam.sealed("correct horse")?;
//! assert!(is_sealed(&sealed) && !sealed.contains("juno"));
//! assert!(Exam::opened("a.sealed", &sealed, "wrong horse").is_err());
//! let opened = Exam::opened("a.sealed", &sealed, "correct horse")?;
//! assert_eq!(opened, exam);
//! let session = Session::dealt(&Arc::new(opened.scenario), opened.seed, opened.dealt)?;
//! assert_eq!(session.seed(), exam.seed);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod bare;
mod chain;
mod seal;

use serde_json::{Value, json};
use thiserror::Error;
use tidewright_scenario::format::{Dealt, Id};
use tidewright_scenario::{Rejected, Scenario, parse};

pub use chain::{Chain, Change, checked};
pub use seal::is_sealed;

use crate::case::varied::{seed_of, vary};
use crate::words::command::pseudonym as id;

/// What a student gets.
#[derive(Clone, Debug, PartialEq)]
pub struct Exam {
    /// Its neutral name.
    pub name: Id,
    /// The scenario without what marks.
    pub scenario: Scenario,
    /// The student's pseudonym.
    pub pseudonym: Id,
    /// Seed of the session.
    pub seed: u32,
    /// What was dealt.
    pub dealt: Option<Dealt>,
    /// What chains the log: a secret of this student's.
    pub secret: String,
}

/// An exam that cannot be made or opened.
#[derive(Debug, Error)]
pub enum ExamError {
    /// The scenario is no lesson, or too odd to be bared of what marks.
    #[error("no exam can be made of this scenario: {0}")]
    NotBare(String),
    /// The passphrase is too short to seal anything.
    #[error("a passphrase has at least {0} characters")]
    Short(usize),
    /// It is no sealed exam.
    #[error("this is no sealed exam, or it was changed: {0}")]
    NoSeal(#[from] Rejected),
    /// Another passphrase, or another text than was sealed.
    #[error("the passphrase is another, or the file was changed")]
    NotOpened,
    /// What was sealed is none of this version.
    #[error("what is sealed was made by another version of the program")]
    OtherVersion,
}

impl Exam {
    /// The exam of one student of a class.
    ///
    /// # Errors
    /// [`ExamError::NotBare`].
    pub fn of(lesson: &Scenario, pseudonym: Id, class_seed: u32) -> Result<Self, ExamError> {
        let seed = seed_of(class_seed, pseudonym.as_str());
        let dealt = vary(lesson, seed);
        let name = id(&format!("exam-{pseudonym}")).map_err(|_| {
            ExamError::NotBare(format!("the pseudonym `{pseudonym}` is too long for a name"))
        })?;
        let scenario = bare::bared(lesson, &name)?;
        // A teacher's seed is a small number: the lesson makes it hard to guess.
        let secret = chain::secret(&lesson.to_json(), class_seed, pseudonym.as_str());
        Ok(Self { name, scenario, pseudonym, seed, dealt, secret })
    }

    /// The sealed file.
    ///
    /// # Errors
    /// [`ExamError::Short`].
    pub fn sealed(&self, passphrase: &str) -> Result<String, ExamError> {
        let inside = json!({
            "engine": env!("CARGO_PKG_VERSION"),
            "name": self.name,
            "scenario": self.scenario.to_json(),
            "pseudonym": self.pseudonym,
            "seed": self.seed,
            "dealt": self.dealt,
            "secret": self.secret,
        });
        seal::sealed(&self.name, &inside.to_string(), passphrase)
    }

    /// Opens a sealed file.
    ///
    /// # Errors
    /// [`ExamError`].
    pub fn opened(file_name: &str, text: &str, passphrase: &str) -> Result<Self, ExamError> {
        let inside = seal::opened(file_name, text, passphrase)?;
        let inside: Value = serde_json::from_str(&inside).map_err(|_| ExamError::OtherVersion)?;
        let text = |name: &str| inside[name].as_str().ok_or(ExamError::OtherVersion);
        if text("engine")? != env!("CARGO_PKG_VERSION") {
            return Err(ExamError::OtherVersion);
        }
        let named = |name: &str| id(text(name)?).map_err(|_| ExamError::OtherVersion);
        let scenario =
            parse("exam.json", text("scenario")?).map_err(|_| ExamError::OtherVersion)?;
        let seed = inside["seed"].as_u64().and_then(|seed| u32::try_from(seed).ok());
        let number = |name: &str| inside["dealt"][name].as_f64().ok_or(ExamError::OtherVersion);
        let dealt = match &inside["dealt"] {
            Value::Null => None,
            _ => Some(Dealt {
                weight_kg: number("weight_kg")?,
                severity_factor: number("severity_factor")?,
            }),
        };
        Ok(Self {
            name: named("name")?,
            scenario,
            pseudonym: named("pseudonym")?,
            seed: seed.ok_or(ExamError::OtherVersion)?,
            dealt,
            secret: text("secret")?.to_owned(),
        })
    }
}
