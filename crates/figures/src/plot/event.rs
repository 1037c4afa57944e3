//! What is marked along a time axis.

use tidewright::breath::EndedBy;
use tidewright::phase::PhaseKind;

/// A stretch of time that the ventilator spends in one phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Phase {
    /// Start, s.
    pub start_s: f64,
    /// End, s.
    pub end_s: f64,
    /// Which phase.
    pub kind: PhaseKind,
}

/// The end of an inspiration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BreathEnd {
    /// When, s.
    pub at_s: f64,
    /// Airway pressure at that moment, cmH2O.
    pub pressure_cmh2o: f64,
    /// What ended it: ▲ pressure, ■ time limit, ● standby.
    pub by: EndedBy,
}

/// A change at one moment, such as a leak that opens.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// When, s.
    pub at_s: f64,
    /// What changed, in a few words.
    pub label: String,
}

/// Whether an axis can show a value; false for what is not a number.
pub(crate) fn in_range(value: f64) -> bool {
    value.abs() <= 1e9
}
