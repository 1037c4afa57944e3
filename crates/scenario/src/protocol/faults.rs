//! From the faults that a file names to those of the engine, and the times at
//! which a person would say that something happened.

use tidewright::fault;
use tidewright::quantity::Seconds;

use crate::format::{Onset, Scenario, TimedFault};

impl TimedFault {
    /// The same for the engine.
    #[must_use]
    pub fn to_core(&self) -> fault::TimedFault {
        let (fault, severity) = self.fault.to_core();
        let over_s = match &self.onset {
            Onset::Step => 0.0,
            Onset::Ramp(ramp) => ramp.s,
        };
        fault::TimedFault {
            fault,
            severity,
            onset_at: Seconds::s(self.at_s),
            over: Seconds::s(over_s),
            until: self.until_s.map(Seconds::s),
        }
    }
}

/// The faults of a scenario for the engine.
pub(super) fn timed(scenario: &Scenario) -> Vec<fault::TimedFault> {
    scenario.faults.iter().map(TimedFault::to_core).collect()
}
