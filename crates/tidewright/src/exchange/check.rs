//! What of gas exchange cannot be: the one place where its numbers are checked.

use thiserror::Error;

use super::{ApparatusError, Conditions, Exchange, Fractions, MAX_SPACES};
use crate::stepping::machine::Machine;

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

impl Conditions {
    /// Checks that they can be.
    ///
    /// # Errors
    /// [`GasError`]: what is wrong first.
    ///
    /// ```
    /// use tidewright::exchange::{Conditions, Fractions, GasError};
    /// use tidewright::prelude::*;
    /// use tidewright::species::{Animal, Species};
    /// let horse = Animal::typical(Species::Horse, Mass::kg(400.0));
    /// let wrong = Fractions { oxygen: 21.0, ..Fractions::AIR };
    /// let error = Conditions::of(&horse, 38.5, wrong).check().unwrap_err();
    /// assert_eq!(
    ///     error.to_string(),
    ///     "the fresh gas' share of oxygen is 21, and must be a share from 0 to 1"
    /// );
    /// ```
    pub fn check(&self) -> Result<(), GasError> {
        let demand = &self.demand;
        not_negative("the cardiac output in mL/s", demand.cardiac_output_ml_s)?;
        not_negative("the oxygen that the tissues want in mL/s", demand.oxygen_ml_s)?;
        not_negative(
            "the carbon dioxide that the tissues make in mL/s",
            demand.carbon_dioxide_ml_s,
        )?;
        self.fresh_gas.check()
    }
}

impl Exchange {
    /// Checks that it can be, and that it is for the lung of a machine.
    ///
    /// # Errors
    /// [`GasError`]: what is wrong first.
    pub fn check(&self, machine: &Machine) -> Result<(), GasError> {
        let compartments = machine.setup().lung.compartments.len();
        let exchange = self.relaxed_ml.iter().filter(|&&relaxed| relaxed != 0.0).count();
        if exchange != compartments {
            return Err(GasError::OtherLung { exchange, machine: compartments });
        }
        self.apparatus.check()?;
        let spaces = self.spaces.len();
        let known = |space: &super::Space| space.compartment < compartments;
        let met = |index| self.spaces.iter().any(|space| space.compartment == index);
        if spaces > MAX_SPACES || !self.spaces.iter().all(known) || !(0..compartments).all(met) {
            return Err(GasError::Spaces { spaces, compartments });
        }
        for space in &self.spaces {
            share("a space's share of its compartment", space.share)?;
            share("a space's share of the blood", space.perfusion)?;
            not_negative("the tissue of a space in mL", space.tissue_ml)?;
            positive("the residue of a space in mL", space.residue_ml)?;
        }
        for &relaxed in &self.relaxed_ml[..compartments] {
            positive("the relaxed volume of a compartment in mL", relaxed)?;
        }
        not_negative("the volume of tube and airway in mL", self.airway_ml)?;
        share("the shunt", self.shunt)?;
        positive("the pressure of dry gas in mmHg", self.dry_mmhg())
    }
}
