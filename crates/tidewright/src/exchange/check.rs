//! What of gas exchange cannot be: the one place where its numbers are checked.

use thiserror::Error;

use super::stores::alveoli::MAX_SPACES;
use super::stores::apparatus::ApparatusError;
use super::stores::parcel::Fractions;

/// Gas that cannot be followed.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum GasError {
    /// A breathing system that cannot be.
    #[error(transparent)]
    Apparatus(#[from] ApparatusError),
    /// A number that is out of its range.
    #[error("{what} is {value}, and must be {expected}")]
    OutOfRange {
        /// Which, with its unit.
        what: &'static str,
        /// The value given.
        value: f64,
        /// What would be in range.
        expected: &'static str,
    },
    /// Carbon dioxide and oxygen are more than all of a gas.
    #[error(
        "of the fresh gas {carbon_dioxide} is carbon dioxide and {oxygen} oxygen: more than all of it"
    )]
    TooMuch {
        /// Share of carbon dioxide.
        carbon_dioxide: f64,
        /// Share of oxygen.
        oxygen: f64,
    },
    /// The exchange was made for another lung than the machine has.
    #[error(
        "the gas exchange is for a lung of {exchange} compartments and the machine has {machine}: make it \
         of the machine's own lung"
    )]
    OtherLung {
        /// Compartments of the exchange.
        exchange: usize,
        /// Compartments of the machine's lung.
        machine: usize,
    },
    /// There are too many alveolar spaces, none, or one of a compartment that is not
    /// there.
    #[error(
        "{spaces} alveolar spaces for {compartments} compartments: at least one for each, at most {MAX_SPACES}"
    )]
    Spaces {
        /// How many there are.
        spaces: usize,
        /// Compartments of the lung.
        compartments: usize,
    },
    /// A change is not after the one before it, or before the start.
    #[error(
        "the change of gas at {at_s} s stands after {before_s} s: put changes in order of time, from 0 s on"
    )]
    Order {
        /// The time of the change, s.
        at_s: f64,
        /// The time it must not precede, s.
        before_s: f64,
    },
    /// A plan with timed changes for a run that is changed while it goes on.
    #[error(
        "the plan changes the gas at {at_s} s: leave that out, and change the run when it is there"
    )]
    NotItsOwn {
        /// The time of the first change, s.
        at_s: f64,
    },
}

const SHARE: &str = "a share from 0 to 1";
const NOT_NEGATIVE: &str = "a finite number, 0 or more";
const POSITIVE: &str = "a finite number above 0";

pub(crate) fn number(
    what: &'static str,
    value: f64,
    expected: &'static str,
    good: bool,
) -> Result<(), GasError> {
    if value.is_finite() && good {
        Ok(())
    } else {
        Err(GasError::OutOfRange { what, value, expected })
    }
}

pub(crate) fn not_negative(what: &'static str, value: f64) -> Result<(), GasError> {
    number(what, value, NOT_NEGATIVE, value >= 0.0)
}

pub(crate) fn positive(what: &'static str, value: f64) -> Result<(), GasError> {
    number(what, value, POSITIVE, value > 0.0)
}

pub(crate) fn share(what: &'static str, value: f64) -> Result<(), GasError> {
    number(what, value, SHARE, (0.0..=1.0).contains(&value))
}

impl Fractions {
    /// Checks that it can be.
    ///
    /// # Errors
    /// [`GasError`]: a share outside 0 to 1, or more than all of the gas.
    pub fn check(&self) -> Result<(), GasError> {
        let Self { carbon_dioxide, oxygen } = *self;
        share("the fresh gas' share of carbon dioxide", carbon_dioxide)?;
        share("the fresh gas' share of oxygen", oxygen)?;
        // Shares that a person took from percents add up to 1 within rounding.
        if carbon_dioxide + oxygen > 1.0 + 1e-9 {
            return Err(GasError::TooMuch { carbon_dioxide, oxygen });
        }
        Ok(())
    }
}
