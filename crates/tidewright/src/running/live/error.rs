//! What a live run refuses.

use thiserror::Error;

use crate::exchange::GasError;
use crate::setup::SetupError;
use crate::stepping::step::{Misplaced, Place, StepError};

/// Something that a run cannot do; nothing has changed then.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum LiveError {
    /// A setup that cannot be run.
    #[error(transparent)]
    Setup(#[from] SetupError),
    /// Gas would vanish or come from nowhere.
    #[error(transparent)]
    Structure(#[from] Misplaced),
    /// Gas or settings of it that cannot be.
    #[error(transparent)]
    Gas(#[from] GasError),
    /// The run follows no gas.
    #[error("this run follows no gas: begin it with a gas plan")]
    NoGas,
    /// The machine holds no gas at a place.
    #[error(
        "there is no gas at {place:?}: give it a compliance, or name a compartment that the lung has"
    )]
    NoSuchPlace {
        /// The place named.
        place: Place,
    },
    /// A number that cannot be.
    #[error("{what} is {value}, and must be {expected}")]
    OutOfRange {
        /// Which, with its unit.
        what: &'static str,
        /// The value given.
        value: f64,
        /// What would be in range.
        expected: &'static str,
    },
    /// The setup has a pattern of effort, beside which no other breath shows.
    #[error(
        "the patient's effort is a pattern of the setup: take it out before letting it breathe in"
    )]
    EffortIsAPattern,
    /// Time goes one way, and not for ever.
    #[error(
        "the run stands at {now_s} s and cannot go to {to_s} s: name a finite time that is not past"
    )]
    NotAhead {
        /// Where it is, s.
        now_s: f64,
        /// The time named, s.
        to_s: f64,
    },
    /// The run cannot go on.
    #[error(transparent)]
    Step(#[from] StepError),
}
