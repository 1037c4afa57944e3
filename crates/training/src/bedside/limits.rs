//! The limits beyond which the criteria of a lesson have something integrated.

use tidewright_scenario::format::{Measure, Training};

/// Limits above which alveolar pressure must be integrated, cmH2O.
pub(crate) fn alveolar_limits(training: &Training) -> Vec<f64> {
    limits(training, |measure| match measure {
        Measure::AlveolarPressureAbove(above) => Some(above.limit_cmh2o),
        _ => None,
    })
}

/// Saturations below which time must be counted, %.
pub(crate) fn saturation_limits(training: &Training) -> Vec<f64> {
    limits(training, |measure| match measure {
        Measure::SaturationBelow(below) => Some(below.limit_percent),
        _ => None,
    })
}

fn limits(training: &Training, of: impl Fn(&Measure) -> Option<f64>) -> Vec<f64> {
    training.criteria.iter().filter_map(|criterion| of(&criterion.measure)).collect()
}
