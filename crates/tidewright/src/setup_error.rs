//! What makes a setup impossible to run.

use thiserror::Error;

use crate::modes::MAX_MODES;
use crate::setup::Setup;

/// The most compartments a lung may have.
pub const MAX_COMPARTMENTS: usize = 6;

/// A setup that cannot be run, and why.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum SetupError {
    /// A value is not a finite number in its range.
    #[error("{what} is {value} {unit}, and must be {expected}")]
    OutOfRange {
        /// The value's name.
        what: &'static str,
        /// The value given.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// What would be in range.
        expected: &'static str,
    },
    /// The lung has no compartment, or too many.
    #[error("the lung has {count} compartments, and must have 1 to {MAX_COMPARTMENTS}")]
    Compartments {
        /// The number given.
        count: usize,
    },
    /// A rigid circuit whose every outlet is shut: the pressure has no value.
    #[error(
        "fresh gas flows into a rigid circuit with no way out, so its pressure has no value: \
         give the circuit a compliance (0.01 mL/cmH2O is about 10 mL of gas)"
    )]
    NowhereToGo,
}

/// Checks every value of a setup.
pub(crate) fn check(setup: &Setup) -> Result<(), SetupError> {
    const { assert!(MAX_COMPARTMENTS + 2 <= MAX_MODES) }
    let count = setup.lung.compartments.len();
    if !(1..=MAX_COMPARTMENTS).contains(&count) {
        return Err(SetupError::Compartments { count });
    }
    for part in &setup.lung.compartments {
        above_zero("lung compliance", part.compliance.as_ml_per_cmh2o(), "mL/cmH2O")?;
        above_zero("lung resistance", part.resistance.as_cmh2o_s_per_l(), "cmH2O·s/L")?;
    }
    let circuit = &setup.circuit;
    at_least_zero("tube resistance", setup.lung.tube_resistance.as_cmh2o_s_per_l(), "cmH2O·s/L")?;
    at_least_zero("circuit compliance", circuit.compliance.as_ml_per_cmh2o(), "mL/cmH2O")?;
    above_zero("valve resistance", circuit.valve_resistance.as_cmh2o_s_per_l(), "cmH2O·s/L")?;
    if let Some(leak) = circuit.leak {
        at_least_zero("leak flow", leak.flow.as_ml_s(), "mL/s")?;
        above_zero("leak test pressure", leak.at.as_cmh2o(), "cmH2O")?;
    }
    let ventilator = &setup.ventilator;
    at_least_zero("fresh gas flow", ventilator.fresh_gas_flow.as_ml_s(), "mL/s")?;
    finite("cycling pressure", ventilator.cycling_pressure.as_cmh2o(), "cmH2O")?;
    finite("end-expiratory pressure", ventilator.end_expiratory_pressure.as_cmh2o(), "cmH2O")?;
    at_least_zero("inspiratory time limit", ventilator.inspiratory_time_limit.as_s(), "s")?;
    at_least_zero("expiratory time", ventilator.expiratory_time.as_s(), "s")?;
    at_least_zero("valve delay", ventilator.valve_delay.as_s(), "s")
}

/// Beyond these, in any unit used here, products overflow before they mean anything.
const SMALLEST: f64 = 1e-9;
const LARGEST: f64 = 1e9;

fn finite(what: &'static str, value: f64, unit: &'static str) -> Result<(), SetupError> {
    in_range(value.abs() <= LARGEST, what, value, unit, "a number from -1e9 to 1e9")
}

fn at_least_zero(what: &'static str, value: f64, unit: &'static str) -> Result<(), SetupError> {
    let good = value == 0.0 || (SMALLEST..=LARGEST).contains(&value);
    in_range(good, what, value, unit, "0, or a number from 1e-9 to 1e9")
}

fn above_zero(what: &'static str, value: f64, unit: &'static str) -> Result<(), SetupError> {
    let good = (SMALLEST..=LARGEST).contains(&value);
    in_range(good, what, value, unit, "a number above 0, from 1e-9 to 1e9")
}

fn in_range(
    good: bool,
    what: &'static str,
    value: f64,
    unit: &'static str,
    expected: &'static str,
) -> Result<(), SetupError> {
    if good {
        return Ok(());
    }
    Err(SetupError::OutOfRange { what, value, unit, expected })
}
