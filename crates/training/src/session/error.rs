//! Why a session cannot go on, and why an act is not open.

use thiserror::Error;
use tidewright::exchange::GasError;
use tidewright::instrument::InstrumentError;
use tidewright::live::LiveError;
use tidewright::setup::SetupError;
use tidewright::step::StepError;
use tidewright_scenario::format::Id;

use crate::case::table::NotJoined;
use crate::case::varied::NotDealt;

/// A session that cannot begin or go on.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum SessionError {
    /// The scenario has no training block.
    #[error("`{0}` is no lesson: it has no `training` block")]
    NoLesson(Id),
    /// A setup that cannot be run.
    #[error("at {at_s} s: {source}")]
    Setup {
        /// When, s.
        at_s: f64,
        /// Why.
        source: SetupError,
    },
    /// A patient or severities that the lesson does not deal.
    #[error(transparent)]
    NotDealt(#[from] NotDealt),
    /// An instrument that cannot be.
    #[error(transparent)]
    Instrument(#[from] InstrumentError),
    /// Gas that cannot be.
    #[error(transparent)]
    Gas(#[from] GasError),
    /// What the run refuses.
    #[error(transparent)]
    Live(#[from] LiveError),
    /// The run cannot go on.
    #[error(transparent)]
    Step(#[from] StepError),
}

/// Why an act cannot be done now.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NotOpen {
    /// The lesson does not offer it.
    #[error("this lesson does not offer that")]
    NotOffered,
    /// The session is over.
    #[error("the session is over")]
    Ended,
    /// Hands are busy.
    #[error("your hands are busy until {until_s:.0} s")]
    Busy {
        /// Until when, s.
        until_s: f64,
    },
    /// The monitor does not show what the alarm is to watch.
    #[error("this monitor does not show that")]
    NotShown,
    /// There is no such question or prediction.
    #[error("there is no question or prediction `{0}`")]
    Unknown(Id),
    /// There is nothing of that name to check.
    #[error("there is nothing to check called `{found}`: {known}")]
    NoSuchCheck {
        /// What was asked for.
        found: Id,
        /// What there is.
        known: String,
    },
    /// The question has no answer of that number.
    #[error("`{question}` has answers 1 to {answers}")]
    NoSuchAnswer {
        /// The question.
        question: Id,
        /// How many answers it has.
        answers: usize,
    },
    /// It was answered or predicted already.
    #[error("`{0}` has its answer already")]
    Again(Id),
    /// The prediction comes after the reveal.
    #[error("`{0}` has been shown already: a prediction comes before")]
    TooLate(Id),
    /// The cycling pressure would not be above the end-expiratory pressure.
    #[error("the cycling pressure must be above the end-expiratory pressure of {0} cmH2O")]
    BelowPeep(f64),
    /// The parts refuse it.
    #[error(transparent)]
    Joined(#[from] NotJoined),
    /// The tube is out.
    #[error("the tube is out")]
    Extubated,
    /// The setup that follows cannot be run.
    #[error("that cannot be set: {0}")]
    Setup(SetupError),
    /// The run refuses it.
    #[error("that cannot be done: {0}")]
    Refused(Box<SessionError>),
}
