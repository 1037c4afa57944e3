//! What to keep in mind about a fit.

use std::fmt;

use super::refine::COARSE;
use super::{Estimate, Fit, Record, VolumeFrom};

/// A condition above this makes estimates lean on each other (Belsley's common limit,
/// from memory).
const HIGH_CONDITION: f64 = 30.0;
/// A standard error above this part of its value tells little.
const WIDE: f64 = 0.1;
/// Above this, neighbouring residuals are not independent.
const ALIKE: f64 = 0.2;

/// A drift beyond so many of its standard errors is no chance.
const CERTAIN: f64 = 4.0;
/// Above this part of a standard error, steps are told of.
const OF_STEPS: f64 = 0.5;
/// The same for the integrated flow beside the volume.
const APART: f64 = 3.0;
/// A baseline that moves by less is not told of, cmH2O.
const LEAST_MOVED: f64 = 0.01;

/// What to keep in mind about a fit, with what would help.
#[derive(Clone, Debug, PartialEq)]
pub enum Warning {
    /// The columns can hardly be told apart.
    IllConditioned {
        /// See [`Fit::condition`].
        condition: f64,
    },
    /// An estimate is hardly known.
    Wide {
        /// Which.
        what: &'static str,
        /// Its standard error as a part of it.
        part: f64,
    },
    /// A resistance or compliance at or below 0.
    NotPositive {
        /// Which.
        what: &'static str,
    },
    /// The residual is not noise: neighbours are alike.
    NotNoise {
        /// Their correlation.
        likeness: f64,
        /// What the residual is beside the noise of the pressure.
        beside_noise: f64,
    },
    /// The pressure drifts beside the equation.
    Drift {
        /// How far over the record, cmH2O.
        cmh2o: f64,
        /// The zero of the flow that would do it, mL/s.
        flow_ml_s: f64,
    },
    /// The standard errors come from steps in which pressure or flow are written.
    Steps {
        /// The largest part of one, 0 to 1.
        part: f64,
    },
    /// The times of samples are off.
    Jitter {
        /// By how much, ms.
        ms: f64,
    },
    /// A drift cannot be told from the breath, so the estimates are the plain ones.
    Plain,
    /// The integrated flow parts from the volume.
    FlowZero {
        /// By how much, mL/s.
        flow_ml_s: f64,
    },
    /// A volume is integrated from few samples.
    Coarse {
        /// From one sample to the next, s.
        step_s: f64,
        /// The time constant, s.
        time_constant_s: f64,
    },
    /// The record is short.
    Short {
        /// How long, s.
        lasts_s: f64,
        /// The time constant, s.
        time_constant_s: f64,
    },
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::IllConditioned { condition } => write!(
                f,
                "volume, flow and baseline can hardly be told apart (condition {condition:.0}): \
                 take whole breaths, expiration included"
            ),
            Self::Wide { what, part } => write!(
                f,
                "the {what} is only known to within {:.0} % (one standard error): take more \
                 breaths, or breaths that change more",
                100.0 * part
            ),
            Self::NotPositive { what } => write!(
                f,
                "the {what} comes out at or below zero: flow must be positive into the patient, \
                 and pressure that of the airway"
            ),
            Self::NotNoise { likeness, beside_noise } => write!(
                f,
                "what is left of the pressure is {beside_noise:.1} times its noise and not chance \
                 (neighbours correlate by {likeness:.2}): the equation leaves something out, such \
                 as resistance that changes with flow, a second compartment, effort or a leak; \
                 standard errors are enlarged, and still too small for that; look at the figure"
            ),
            Self::Drift { cmh2o, flow_ml_s } => write!(
                f,
                "the pressure drifts by {cmh2o:.2} cmH2O over the record beside the equation: the \
                 flow's zero is off by {flow_ml_s:.2} mL/s, gas leaks, or the pressure's zero \
                 wanders; resistance and compliance hold all the same, the baseline's error is \
                 enlarged for it; correct the zeros"
            ),
            Self::Steps { part } => write!(
                f,
                "pressure or flow are written in coarse steps, which make up to {:.0} % of a \
                 standard error, and more breaths do not help: record them finer",
                100.0 * part
            ),
            Self::Jitter { ms } => write!(
                f,
                "the times of samples are off by about {ms:.1} ms; standard errors hold with it; \
                 record the volume, or times of an even clock"
            ),
            Self::Plain => write!(
                f,
                "a drift cannot be told from the breath in these samples: the estimates are those \
                 of plain least squares, and their errors too small; take several breaths"
            ),
            Self::FlowZero { flow_ml_s } => write!(
                f,
                "the integrated flow parts from the volume by {flow_ml_s:.2} mL/s: the flow's zero \
                 is off, or gas leaks; the baseline's error is enlarged for it; correct the zero"
            ),
            Self::Coarse { step_s, time_constant_s } => write!(
                f,
                "a sample every {step_s:.3} s is coarse beside the time constant of \
                 {time_constant_s:.3} s for a volume that is integrated: errors are enlarged for \
                 it, and withheld beyond half a time constant; record faster, or the volume"
            ),
            Self::Short { lasts_s, time_constant_s } => write!(
                f,
                "the record of {lasts_s:.2} s is short beside the time constant of \
                 {time_constant_s:.2} s: take several breaths"
            ),
        }
    }
}

pub(super) fn warnings(fit: &Fit, record: &Record, plain: bool) -> Vec<Warning> {
    let mut warnings = Vec::new();
    if plain {
        warnings.push(Warning::Plain);
    }
    if fit.condition > HIGH_CONDITION {
        warnings.push(Warning::IllConditioned { condition: fit.condition });
    }
    let estimates = &fit.refined;
    let named: [(&'static str, Estimate); 2] = [
        ("resistance", estimates.resistance_cmh2o_s_l),
        ("compliance", estimates.compliance_ml_cmh2o),
    ];
    for (what, Estimate { value, standard_error }) in named {
        if value <= 0.0 {
            warnings.push(Warning::NotPositive { what });
        } else if standard_error.is_finite() && standard_error > WIDE * value {
            warnings.push(Warning::Wide { what, part: standard_error / value });
        }
    }
    let noise = fit.noise.pressure_cmh2o.max(1e-9);
    let beside_noise = fit.residual_sd_cmh2o / noise;
    // Rounding is not chance either, and nobody minds it.
    let counts = fit.residual_sd_cmh2o > 1e-6;
    if fit.likeness > ALIKE && beside_noise > 1.2 && counts {
        warnings.push(Warning::NotNoise { likeness: fit.likeness, beside_noise });
    }
    if let (Some(first), Some(last)) = (record.time_s.first(), record.time_s.last()) {
        let lasts_s = last - first;
        let time_constant_s = estimates.time_constant_s.value;
        if lasts_s < 3.0 * time_constant_s {
            warnings.push(Warning::Short { lasts_s, time_constant_s });
        }
        let step_s = lasts_s / (fit.samples as f64 - 1.0);
        if fit.volume_from == VolumeFrom::Flow && step_s > COARSE * time_constant_s {
            warnings.push(Warning::Coarse { step_s, time_constant_s });
        }
        let drift = fit.drift_cmh2o_s;
        let cmh2o = drift.value * lasts_s;
        if drift.value.abs() > CERTAIN * drift.standard_error && cmh2o.abs() > noise {
            let flow_ml_s = -drift.value * estimates.compliance_ml_cmh2o.value;
            warnings.push(Warning::Drift { cmh2o, flow_ml_s });
        }
    }
    let Estimate { value: flow_ml_s, standard_error } = fit.flow_zero_ml_s;
    let moved = 1e-3 * estimates.resistance_cmh2o_s_l.value * flow_ml_s.abs();
    if flow_ml_s.abs() > APART * standard_error && moved > (0.2 * noise).max(LEAST_MOVED) {
        warnings.push(Warning::FlowZero { flow_ml_s });
    }
    let most = fit.of_steps[..3].iter().copied().fold(0.0, f64::max);
    if most > OF_STEPS {
        warnings.push(Warning::Steps { part: most });
    }
    if fit.jitter_s > 0.0 {
        warnings.push(Warning::Jitter { ms: 1e3 * fit.jitter_s });
    }
    warnings
}

/// The slope of values over time, in their unit for each second.
pub(super) fn slope(record: &Record, residual: &[f64]) -> f64 {
    let n = residual.len() as f64;
    let middle = record.time_s.iter().sum::<f64>() / n;
    let (mut up, mut down) = (0.0, 0.0);
    for (t, r) in record.time_s.iter().zip(residual) {
        up += (t - middle) * r;
        down += (t - middle) * (t - middle);
    }
    up / down.max(f64::MIN_POSITIVE)
}
