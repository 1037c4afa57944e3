//! What makes a setup impossible to run.

use thiserror::Error;

use super::{Circuit, Course, LeaksTo, Lung, PressureVolume, SensorPlace, Setup, Tail, Tube};
use crate::base::quantity::{Pressure, Resistance, Volume};
use crate::laws::law::WrongSlope;

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
    /// A hole leads to the pleural space of a lung without a chest wall.
    #[error(
        "an air leak leads to the pleural space, and the lung has no chest wall to bound it: \
         give the lung a chest wall"
    )]
    NoPleura,
    /// A pressure-volume table that does not rise.
    #[error(
        "a pressure-volume table needs two points or more, each with more pressure and more \
         volume than the one before"
    )]
    Table,
    /// A law of the user's own whose slope is not the slope of its pressure.
    #[error(
        "between 0 and {volume_ml} mL the pressure-volume law rises by {rises_cmh2o} cmH2O, and the slope \
         that it tells makes {told_cmh2o} cmH2O: tell the derivative of the pressure, in cmH2O/mL"
    )]
    Slope {
        /// Up to where it was looked at, mL.
        volume_ml: f64,
        /// What its pressure rises by, cmH2O.
        rises_cmh2o: f64,
        /// The integral of its slope, cmH2O.
        told_cmh2o: f64,
    },
    /// A rigid circuit whose every outlet is shut: the pressure has no value.
    #[error(
        "fresh gas flows into a rigid circuit with no way out, so its pressure has no value: \
         give the circuit a compliance (0.01 mL/cmH2O is about 10 mL of gas)"
    )]
    NowhereToGo,
}

impl From<WrongSlope> for SetupError {
    fn from(WrongSlope { volume_ml, rises_cmh2o, told_cmh2o }: WrongSlope) -> Self {
        Self::Slope { volume_ml, rises_cmh2o, told_cmh2o }
    }
}

/// Checks every value of a setup.
pub(crate) fn check(setup: &Setup) -> Result<(), SetupError> {
    check_lung(&setup.lung)?;
    check_circuit(&setup.circuit)?;
    for segment in &setup.effort.segments {
        above_zero("duration of an effort segment", segment.duration.as_s(), "s")?;
        let pressures = match segment.course {
            Course::Hold(p) | Course::HalfSine(p) => [p, p],
            Course::Ramp(from, to) => [from, to],
        };
        for pressure in pressures {
            finite("muscle pressure", pressure.as_cmh2o(), "cmH2O")?;
        }
    }
    let ventilator = &setup.ventilator;
    at_least_zero("fresh gas flow", ventilator.fresh_gas_flow.as_ml_s(), "mL/s")?;
    finite("cycling pressure", ventilator.cycling_pressure.as_cmh2o(), "cmH2O")?;
    finite("end-expiratory pressure", ventilator.end_expiratory_pressure.as_cmh2o(), "cmH2O")?;
    if setup.circuit.tail.is_some_and(|tail| tail.bag.is_some()) {
        let held = ventilator.end_expiratory_pressure.as_cmh2o();
        at_least_zero("end-expiratory pressure before a bag", held, "cmH2O")?;
    }
    at_least_zero("inspiratory time limit", ventilator.inspiratory_time_limit.as_s(), "s")?;
    at_least_zero("expiratory time", ventilator.expiratory_time.as_s(), "s")?;
    at_least_zero("valve delay", ventilator.valve_delay.as_s(), "s")
}

fn check_lung(lung: &Lung) -> Result<(), SetupError> {
    let count = lung.compartments.len();
    if !(1..=MAX_COMPARTMENTS).contains(&count) {
        return Err(SetupError::Compartments { count });
    }
    for part in &lung.compartments {
        above_zero("lung compliance", part.compliance.as_ml_per_cmh2o(), "mL/cmH2O")?;
        resistance("lung resistance", part.resistance)?;
        if let Some(out) = part.expiratory_resistance {
            resistance("expiratory resistance", out)?;
        }
        if let Some(leak) = &part.air_leak {
            resistance("resistance of an air leak", leak.resistance)?;
            if leak.to != LeaksTo::Room && lung.chest_wall.is_none() {
                return Err(SetupError::NoPleura);
            }
        }
        match &part.law {
            PressureVolume::Linear => {}
            PressureVolume::User(law) => law.check_slope(part.compliance)?,
            PressureVolume::Sigmoid { lower, span, middle, width } => {
                finite("lower volume of the sigmoid", lower.as_ml(), "mL")?;
                above_zero("span of the sigmoid", span.as_ml(), "mL")?;
                finite("middle pressure of the sigmoid", middle.as_cmh2o(), "cmH2O")?;
                above_zero("width of the sigmoid", width.as_cmh2o(), "cmH2O")?;
            }
            PressureVolume::Table(points) => {
                let rising =
                    |pair: &[(Pressure, Volume)]| pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1;
                let finite = |&(p, v): &(Pressure, Volume)| {
                    p.as_cmh2o().is_finite() && v.as_ml().is_finite()
                };
                if points.len() < 2 || !points.iter().all(finite) || !points.windows(2).all(rising)
                {
                    return Err(SetupError::Table);
                }
            }
        }
    }
    match lung.tube {
        Tube::None | Tube::Shut | Tube::Sized(_) => {}
        Tube::Linear(r) => resistance("tube resistance", r)?,
        Tube::Quadratic { k1, k2 } => {
            above_zero("k1 of the tube", k1, "cmH2O·s/L")?;
            at_least_zero("k2 of the tube", k2, "cmH2O·s²/L²")?;
        }
        Tube::OneWay { inward, outward } => {
            for r in [inward, outward].into_iter().flatten() {
                resistance("tube resistance", r)?;
            }
        }
    }
    if let Some(cuff) = &lung.cuff {
        at_least_zero("seal pressure of the cuff", cuff.seals_to.as_cmh2o(), "cmH2O")?;
        at_least_zero("leak past the cuff", cuff.conductance_ml_s_cmh2o, "mL/s per cmH2O")?;
    }
    if let Some(wall) = &lung.chest_wall {
        above_zero("chest wall compliance", wall.compliance.as_ml_per_cmh2o(), "mL/cmH2O")?;
        finite("pressure on the chest", wall.pressed_by.as_cmh2o(), "cmH2O")?;
        if let Some(wound) = wall.open_wound {
            resistance("resistance of the wound", wound)?;
        }
    }
    if let Some(branch) = &lung.viscoelastic {
        above_zero("viscoelastic compliance", branch.compliance.as_ml_per_cmh2o(), "mL/cmH2O")?;
        resistance("viscoelastic resistance", branch.resistance)?;
    }
    Ok(())
}

fn check_circuit(circuit: &Circuit) -> Result<(), SetupError> {
    at_least_zero("circuit compliance", circuit.compliance.as_ml_per_cmh2o(), "mL/cmH2O")?;
    resistance("valve resistance", circuit.valve_resistance)?;
    at_least_zero("k2 of the outlet", circuit.outlet_k2, "cmH2O·s²/L²")?;
    at_least_zero("water in the limb", circuit.water_in_limb.as_cmh2o(), "cmH2O")?;
    if let Some(limb) = &circuit.limb {
        at_least_zero("limb compliance", limb.compliance.as_ml_per_cmh2o(), "mL/cmH2O")?;
        resistance("limb resistance", limb.resistance)?;
    }
    if let Some(leak) = circuit.leak {
        at_least_zero("leak flow", leak.flow.as_ml_s(), "mL/s")?;
        above_zero("leak test pressure", leak.at.as_cmh2o(), "cmH2O")?;
    }
    if let Some(relief) = &circuit.relief {
        at_least_zero("relief pressure", relief.opens_at.as_cmh2o(), "cmH2O")?;
        resistance("relief resistance", relief.resistance)?;
    }
    if let Some(tail) = &circuit.tail {
        check_tail(tail)?;
    }
    let share = circuit.sensor.share;
    let good = share > 0.0 && share <= 1.0;
    in_range(good, "share of the pressure that is sensed", share, "of it", "above 0, at most 1")?;
    finite("sensor offset", circuit.sensor.offset.as_cmh2o(), "cmH2O")?;
    if let SensorPlace::Cut(stays_at) = circuit.sensor.place {
        finite("pressure of the cut sensor", stays_at.as_cmh2o(), "cmH2O")?;
    }
    Ok(())
}

fn check_tail(tail: &Tail) -> Result<(), SetupError> {
    if let Some(bag) = &tail.bag {
        above_zero("volume of the bag", bag.holds.as_ml(), "mL")?;
        above_zero("compliance of the bag", bag.stretch.as_ml_per_cmh2o(), "mL/cmH2O")?;
    }
    if let Some(way_out) = tail.way_out {
        resistance("resistance behind the outlet", way_out)?;
    }
    at_least_zero("relief behind the outlet", tail.opens_at.as_cmh2o(), "cmH2O")?;
    at_least_zero("suction behind the outlet", tail.pulled_by.as_cmh2o(), "cmH2O")
}

fn resistance(what: &'static str, value: Resistance) -> Result<(), SetupError> {
    above_zero(what, value.as_cmh2o_s_per_l(), "cmH2O·s/L")
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
