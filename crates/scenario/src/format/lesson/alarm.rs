//! Alarms: limits that a student sets.

use crate::format::LONGEST_RUN_S;
use crate::read::{any, block, choice, number};

block! {
    /// The limit of an alarm.
    pub struct AlarmLimit {
        /// What is watched.
        of: Alarmed = any(),
        /// The limit, in the unit of the monitor.
        at: Option<f64> = number(0.0, 10_000.0).or_nothing("no alarm"),
    }
}

block! {
    /// An alarm, and the limits that pass.
    pub struct AlarmRange {
        /// What it watches.
        of: Alarmed = any(),
        /// Lowest limit that passes, in the unit of the monitor.
        at_least: f64 = number(0.0, 10_000.0),
        /// Highest limit that passes.
        at_most: f64 = number(0.0, 10_000.0),
        /// Latest that passes, from the onset.
        within_s: f64 = number(0.0, LONGEST_RUN_S),
    }
}

choice! {
    /// What an alarm watches.
    #[derive(Copy, Eq)]
    pub enum Alarmed {
        /// The highest pressure of a breath on the gauge: above the limit, in cmH2O.
        PeakPressure,
        /// Time since the last breath ended: above the limit, in s.
        NoBreath,
        /// The volume out of a breath: below the limit, in mL.
        TidalVolume,
        /// End-tidal carbon dioxide: above the limit, in mmHg.
        EndTidalCarbonDioxide,
        /// Saturation: below the limit, in percent.
        Saturation,
    }
}
