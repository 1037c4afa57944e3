//! Alarms: limits that a student sets.

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
