//! The limits beyond which the criteria of a lesson have something integrated.

use tidewright_scenario::format::{Measure, Training};

/// Limits above which alveolar pressure must be integrated, cmH2O.
pub(crate) fn alveolar_limits(training: &Training) -> Vec<f64> {
    let measures = training.criteria.iter().map(|criterion| &criterion.measure);
    measures
        .filter_map(|measure| match measure {
            Measure::AlveolarPressureAbove(above) => Some(above.limit_cmh2o),
            _ => None,
        })
        .collect()
}

/// Saturations below which time must be counted, %.
pub(crate) fn saturation_limits(training: &Training) -> Vec<f64> {
    let measures = training.criteria.iter().map(|criterion| &criterion.measure);
    measures
        .filter_map(|measure| match measure {
            Measure::SaturationBelow(below) => Some(below.limit_percent),
            _ => None,
        })
        .collect()
}
