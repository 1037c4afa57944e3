//! The running hours of a ventilator, and when its service is due.

use tidewright::bench::{HoursError, RunningHours, ServiceRule};

use crate::read::{Rule, block, number};

const HOURS: Rule = number(0.0, 1e6);

block! {
    /// What the ventilator's counters show.
    pub struct Hours {
        /// Hours switched on, in standby or ventilating.
        in_use_h: f64 = HOURS,
        /// Hours ventilating.
        ventilating_h: f64 = HOURS,
        /// Hours of ventilating from which service is to be booked.
        service_near_h: f64 = HOURS.or(500.0),
        /// Hours of ventilating by which it must have been done.
        service_due_h: f64 = HOURS.or(1000.0),
    }
}

impl Copy for Hours {}

impl Hours {
    /// The counters and the rule of the library.
    ///
    /// # Errors
    /// [`HoursError`]: hours that do not go together.
    pub fn to_core(&self) -> Result<(RunningHours, ServiceRule), HoursError> {
        let counters = RunningHours::new(self.in_use_h, self.ventilating_h)?;
        Ok((counters, ServiceRule::new(self.service_near_h, self.service_due_h)?))
    }
}
