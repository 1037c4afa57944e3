//! What a fault shows, as a student sorts it.

use tidewright::breath::{Breath, EndedBy};

/// Part of the healthy volume below which a breath brings next to nothing.
const NEXT_TO_NOTHING: f64 = 0.1;
/// Rise of the baseline that a gauge shows, cmH2O.
const RAISED_CMH2O: f64 = 1.0;

/// What is seen, as a student sorts it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Pattern {
    Longer,
    LimitLess,
    LimitNothing,
    LimitMore,
    Shorter,
    Raised,
}

impl Pattern {
    /// In the order of the chart.
    pub const ALL: &[Self] = &[
        Self::Longer,
        Self::LimitLess,
        Self::LimitNothing,
        Self::LimitMore,
        Self::Shorter,
        Self::Raised,
    ];

    pub fn of(breath: &Breath, healthy: &Breath) -> Self {
        let volume = breath.expired_at_airway.as_ml() / healthy.expired_at_airway.as_ml();
        let rise = (breath.baseline_pressure - healthy.baseline_pressure).as_cmh2o();
        match breath.ended_by {
            _ if rise > RAISED_CMH2O => Self::Raised,
            EndedBy::Time if volume < NEXT_TO_NOTHING => Self::LimitNothing,
            EndedBy::Time if volume < 1.0 => Self::LimitLess,
            EndedBy::Time => Self::LimitMore,
            _ if breath.inspiratory_time > healthy.inspiratory_time => Self::Longer,
            _ => Self::Shorter,
        }
    }
}
