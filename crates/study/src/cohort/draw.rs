//! What can be drawn for a patient: from what, and where it goes.

use rand::{Rng, RngExt};
use tidewright::math;
use tidewright::quantity::{Compliance, Flow, Pressure, Resistance, Seconds};
use tidewright::random::standard_normal;
use tidewright::setup::{Leak, LeakLaw, Lung, Setup, Tube};

use super::file::{Distribution, LogNormal, Normal, Uniform, Vary};

/// Factors and differences beyond this many standard deviations are drawn again.
const MOST_SD: f64 = 4.0;

impl Distribution {
    /// A value.
    #[must_use]
    pub fn draw(&self, generator: &mut impl Rng) -> f64 {
        match *self {
            Self::Uniform(Uniform { from, to }) => from + (to - from) * generator.random::<f64>(),
            Self::Normal(Normal { mean, sd }) => loop {
                let z = standard_normal(generator);
                let value = mean + sd * z;
                if z.abs() <= MOST_SD && value >= 0.0 {
                    return value;
                }
            },
            Self::LogNormal(LogNormal { median, log_sd }) => loop {
                let z = standard_normal(generator);
                if z.abs() <= MOST_SD {
                    return median * math::exp(log_sd * z);
                }
            },
        }
    }

    /// The typical value: the middle, the mean or the median.
    #[must_use]
    pub const fn centre(&self) -> f64 {
        match *self {
            Self::Uniform(Uniform { from, to }) => 0.5 * (from + to),
            Self::Normal(Normal { mean, .. }) => mean,
            Self::LogNormal(LogNormal { median, .. }) => median,
        }
    }
}

/// Something that can be drawn for a patient. The number of each is part of its seed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Variate {
    Weight,
    Compliance,
    CompliancePerKg,
    Resistance,
    CircuitCompliance,
    ValveResistance,
    Leak,
    EndExpiratoryPressure,
    FreshGasFlow,
    CyclingPressure,
    ExpiratoryTime,
}

impl Variate {
    /// What is drawn of the patient and the equipment, in the order in which it is set.
    pub const BEFORE_SETTINGS: [Self; 7] = [
        Self::Compliance,
        Self::CompliancePerKg,
        Self::Resistance,
        Self::CircuitCompliance,
        Self::ValveResistance,
        Self::Leak,
        Self::EndExpiratoryPressure,
    ];
    /// What is drawn of the settings, over any rule.
    pub const SETTINGS: [Self; 3] =
        [Self::FreshGasFlow, Self::CyclingPressure, Self::ExpiratoryTime];

    /// What it is drawn from, if it is.
    pub const fn of(self, vary: &Vary) -> Option<Distribution> {
        match self {
            Self::Weight => vary.weight_kg,
            Self::Compliance => vary.compliance_ml_cmh2o,
            Self::CompliancePerKg => vary.compliance_ml_cmh2o_kg,
            Self::Resistance => vary.resistance_cmh2o_s_l,
            Self::CircuitCompliance => vary.circuit_compliance_ml_cmh2o,
            Self::ValveResistance => vary.valve_resistance_cmh2o_s_l,
            Self::Leak => vary.leak_ml_min,
            Self::EndExpiratoryPressure => vary.end_expiratory_pressure_cmh2o,
            Self::FreshGasFlow => vary.fresh_gas_flow_l_min,
            Self::CyclingPressure => vary.cycling_pressure_cmh2o,
            Self::ExpiratoryTime => vary.expiratory_time_s,
        }
    }

    /// Puts a value where it belongs. The weight belongs to the caller.
    pub fn set(self, setup: &mut Setup, weight_kg: f64, value: f64) {
        let (circuit, ventilator) = (&mut setup.circuit, &mut setup.ventilator);
        match self {
            Self::Weight => {}
            Self::Compliance => set_compliance(&mut setup.lung, value),
            Self::CompliancePerKg => set_compliance(&mut setup.lung, value * weight_kg),
            Self::Resistance => set_resistance(&mut setup.lung, value),
            Self::CircuitCompliance => circuit.compliance = Compliance::ml_per_cmh2o(value),
            Self::ValveResistance => circuit.valve_resistance = Resistance::cmh2o_s_per_l(value),
            Self::Leak => {
                let (at, law) = match &circuit.leak {
                    Some(leak) => (leak.at, leak.law),
                    None => (Pressure::cmh2o(30.0), LeakLaw::Linear),
                };
                let flow = Flow::ml_s(value / 60.0);
                circuit.leak = (value != 0.0).then_some(Leak { flow, at, law });
            }
            Self::FreshGasFlow => ventilator.fresh_gas_flow = Flow::l_per_min(value),
            Self::CyclingPressure => ventilator.cycling_pressure = Pressure::cmh2o(value),
            Self::ExpiratoryTime => ventilator.expiratory_time = Seconds::s(value),
            Self::EndExpiratoryPressure => {
                ventilator.end_expiratory_pressure = Pressure::cmh2o(value);
            }
        }
    }
}

/// Resistance of tube and airways; of the airways alone where the tube is not linear.
pub(super) fn resistance(lung: &Lung) -> f64 {
    let tube = match lung.tube {
        Tube::Linear(resistance) => resistance.as_cmh2o_s_per_l(),
        _ => 0.0,
    };
    let conductance = lung.compartments.iter().map(|part| 1.0 / part.resistance.as_cmh2o_s_per_l());
    match &lung.compartments[..] {
        [only] => tube + only.resistance.as_cmh2o_s_per_l(),
        _ => tube + 1.0 / conductance.sum::<f64>(),
    }
}

fn set_compliance(lung: &mut Lung, value: f64) {
    if let [only] = &mut lung.compartments[..] {
        only.compliance = Compliance::ml_per_cmh2o(value);
        return;
    }
    let factor = value / lung.total_compliance().as_ml_per_cmh2o();
    for part in &mut lung.compartments {
        part.compliance = part.compliance * factor;
    }
}

fn set_resistance(lung: &mut Lung, value: f64) {
    let factor = value / resistance(lung);
    if let Tube::Linear(tube) = &mut lung.tube {
        *tube = *tube * factor;
    }
    for part in &mut lung.compartments {
        part.resistance = part.resistance * factor;
        part.expiratory_resistance = part.expiratory_resistance.map(|out| out * factor);
    }
}
