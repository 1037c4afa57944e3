//! Faults that come and go during a run, on top of the changes that a person makes.

use super::Fault;
use crate::base::quantity::Seconds;
use crate::running::run::{Change, Protocol};

/// Parts into which the rise of a fault is cut.
const STEPS: u32 = 20;

/// A fault that comes at a time, at once or bit by bit, and may go again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimedFault {
    /// The fault.
    pub fault: Fault,
    /// How bad it gets, 0 to 1.
    pub severity: f64,
    /// When it begins, since the start of the run.
    pub onset_at: Seconds,
    /// How long it takes to get that bad; 0 for at once.
    pub over: Seconds,
    /// When it is put right, at once; `None` for never in this run.
    pub until: Option<Seconds>,
}

impl TimedFault {
    /// A fault that comes at once and stays.
    #[must_use]
    pub fn step(fault: Fault, severity: f64, onset_at: Seconds) -> Self {
        Self { fault, severity, onset_at, over: Seconds::ZERO, until: None }
    }

    /// How bad it is from `time` on.
    ///
    /// A rise is a staircase of 20 steps: each lasts a twentieth of the rise and
    /// has the severity of its middle.
    ///
    /// ```
    /// use tidewright::fault::{Fault, TimedFault};
    /// use tidewright::quantity::Seconds;
    /// let leak = TimedFault::step(Fault::CircuitLeak, 0.8, Seconds::s(10.0));
    /// let leak = TimedFault { over: Seconds::s(20.0), ..leak };
    /// assert_eq!(leak.severity_at(Seconds::s(9.0)), 0.0);
    /// assert_eq!(leak.severity_at(Seconds::s(20.0)), 0.8 * 10.5 / 20.0);
    /// assert_eq!(leak.severity_at(Seconds::s(30.0)), 0.8);
    /// ```
    #[must_use]
    pub fn severity_at(&self, time: Seconds) -> f64 {
        let active = time >= self.onset_at && self.until.is_none_or(|until| time < until);
        if !active {
            return 0.0;
        }
        let climbed = (0..STEPS).take_while(|&k| time >= self.step_at(k + 1)).count();
        match u32::try_from(climbed) {
            Ok(k) if k < STEPS => self.severity * (f64::from(k) + 0.5) / f64::from(STEPS),
            _ => self.severity,
        }
    }

    /// The times at which its severity changes, in order but for the last, when it
    /// is put right.
    ///
    /// ```
    /// use tidewright::fault::{Fault, TimedFault};
    /// use tidewright::quantity::Seconds;
    /// let kink = TimedFault::step(Fault::KinkedTube, 1.0, Seconds::s(10.0));
    /// let kink = TimedFault { until: Some(Seconds::s(30.0)), ..kink };
    /// assert_eq!(kink.turns().collect::<Vec<_>>(), [Seconds::s(10.0), Seconds::s(30.0)]);
    /// ```
    pub fn turns(&self) -> impl Iterator<Item = Seconds> {
        let last = if self.over > Seconds::ZERO { STEPS } else { 0 };
        (0..=last).map(|k| self.step_at(k)).chain(self.until)
    }

    fn step_at(&self, k: u32) -> Seconds {
        self.onset_at + self.over * (f64::from(k) / f64::from(STEPS))
    }
}

/// A protocol with faults on top of its own changes: at any time the setup is the
/// protocol's own, prepared for every fault from the start, with each fault put in
/// as bad as it then is, in the order given.
///
/// Changes that are out of order, or a time that is no number, are left for
/// [`crate::run::Simulation::new`] to refuse.
#[must_use]
pub fn with_faults(protocol: &Protocol, faults: &[TimedFault]) -> Protocol {
    if !protocol.changes.is_sorted_by(|a, b| a.at <= b.at) {
        return protocol.clone();
    }
    let within = |time: &Seconds| !(*time <= Seconds::ZERO || *time > protocol.duration);
    let mut times: Vec<Seconds> =
        faults.iter().flat_map(TimedFault::turns).filter(within).collect();
    times.extend(protocol.changes.iter().map(|change| change.at));
    times.sort_by(|a, b| a.as_s().total_cmp(&b.as_s()));
    times.dedup();

    let setup_at = |time: Seconds| {
        let own = protocol.changes.iter().rev().find(|change| change.at <= time);
        let own = own.map_or(&protocol.start, |change| &change.setup);
        let ready = faults.iter().fold(own.clone(), |setup, timed| timed.fault.prepare(&setup));
        faults.iter().fold(ready, |setup, timed| timed.fault.apply(&setup, timed.severity_at(time)))
    };
    Protocol {
        start: setup_at(Seconds::ZERO),
        changes: times.into_iter().map(|at| Change { at, setup: setup_at(at) }).collect(),
        duration: protocol.duration,
    }
}
