//! What to keep in mind about a fit.

use std::fmt;

use super::{Estimate, Fit, Record};

/// A condition above this makes estimates lean on each other (Belsley's common limit,
/// from memory).
const HIGH_CONDITION: f64 = 30.0;
/// A standard error above this part of its value tells little.
const WIDE: f64 = 0.1;
/// Above this, neighbouring residuals are not independent.
const ALIKE: f64 = 0.2;

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
    /// The residual drifts.
    Drift {
        /// How far over the record, cmH2O.
        cmh2o: f64,
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
            Self::Drift { cmh2o } => write!(
                f,
                "what is left of the pressure drifts by {cmh2o:.2} cmH2O over the record: the \
                 flow's zero is off, or gas leaks; take a shorter part or correct the zero"
            ),
            Self::Short { lasts_s, time_constant_s } => write!(
                f,
                "the record of {lasts_s:.2} s is short beside the time constant of \
                 {time_constant_s:.2} s: take several breaths"
            ),
        }
    }
}

pub(super) fn warnings(fit: &Fit, record: &Record) -> Vec<Warning> {
    let mut warnings = Vec::new();
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
        } else if standard_error > WIDE * value {
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
        let cmh2o = drift(record, &fit.residual_cmh2o) * lasts_s;
        if cmh2o.abs() > fit.residual_sd_cmh2o.max(3.0 * noise) {
            warnings.push(Warning::Drift { cmh2o });
        }
    }
    warnings
}

/// The slope of the residual over time, cmH2O/s.
fn drift(record: &Record, residual: &[f64]) -> f64 {
    let n = residual.len() as f64;
    let middle = record.time_s.iter().sum::<f64>() / n;
    let (mut up, mut down) = (0.0, 0.0);
    for (t, r) in record.time_s.iter().zip(residual) {
        up += (t - middle) * r;
        down += (t - middle) * (t - middle);
    }
    up / down.max(f64::MIN_POSITIVE)
}
