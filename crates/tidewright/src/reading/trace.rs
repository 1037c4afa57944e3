//! A run kept in memory: pieces and the events between them. Sampling is a view
//! of it, and no answer depends on a sampling step.

use crate::base::quantity::Seconds;
use crate::reading::breath::{Breath, BreathMeter};
use crate::stepping::machine::Signal;
use crate::stepping::phase::Cause;
use crate::stepping::piece::Stretch;

/// A run kept in memory.
///
/// ```
/// use tidewright::prelude::*;
/// let protocol = Protocol { start: Setup::default(), changes: vec![], duration: Seconds::s(6.0) };
/// let simulation = Simulation::new(&protocol)?;
/// let trace = simulation.trace()?;
/// let first = trace.events().next().unwrap();
/// assert_eq!(first.cause, Cause::PressureReached);
/// let pressure = trace.at(first.at, Signal::AirwayPressure).unwrap();
/// assert!((pressure - 8.0).abs() < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct Trace<'a> {
    /// The pieces in order of time, each with the machine that made it.
    pub stretches: Vec<Stretch<'a>>,
}

/// The end of a phase.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Event {
    /// When, since the start of the run.
    pub at: Seconds,
    /// What ended the phase.
    pub cause: Cause,
}

impl Trace<'_> {
    /// The ends of phases, in order of time.
    pub fn events(&self) -> impl Iterator<Item = Event> {
        self.stretches.iter().filter_map(|stretch| {
            let cause = stretch.piece.ended_by?;
            let at = Seconds::s(stretch.piece.end_s());
            Some(Event { at, cause })
        })
    }

    /// The finished breaths.
    #[must_use]
    pub fn breaths(&self) -> Vec<Breath> {
        let mut meter = BreathMeter::default();
        self.stretches.iter().filter_map(|stretch| meter.take(stretch)).collect()
    }

    /// A signal at a time since the start of the run; at an event, the value
    /// before it. `None` outside the run.
    #[must_use]
    pub fn at(&self, time: Seconds, signal: Signal) -> Option<f64> {
        let t = time.as_s();
        let index = self.stretches.partition_point(|stretch| stretch.piece.end_s() < t);
        let stretch = self.stretches.get(index)?;
        let local = t - stretch.piece.start_s;
        (local >= 0.0).then(|| stretch.piece.nearest(signal, local))
    }
}

/// Regular sampling times over the stretches of a run, taken in order.
///
/// Sample k is at exactly k divided by the rate; one that falls on an event
/// shows the value before it.
///
/// ```
/// use tidewright::prelude::*;
/// use tidewright::trace::Sampler;
/// let protocol = Protocol { start: Setup::default(), changes: vec![], duration: Seconds::s(2.0) };
/// let simulation = Simulation::new(&protocol)?;
/// let mut sampler = Sampler::per_second(100.0);
/// let mut samples = 0;
/// for stretch in simulation.steps() {
///     sampler.take(&stretch?, |_time_s, _stretch, _local_s| samples += 1);
/// }
/// assert_eq!(samples, 201);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug)]
pub struct Sampler {
    rate_per_s: f64,
    next: u64,
}

impl Sampler {
    /// A sampler with a rate in samples per second.
    ///
    /// # Panics
    /// If the rate is not a finite number above 0.
    #[must_use]
    pub fn per_second(rate_per_s: f64) -> Self {
        assert!(
            rate_per_s.is_finite() && rate_per_s > 0.0,
            "a sampling rate is a finite number above 0, not {rate_per_s}"
        );
        Self { rate_per_s, next: 0 }
    }

    /// Calls `each` with the time since the start of the run, the stretch and
    /// the time since its start, for every sample that falls in the stretch.
    pub fn take<'a>(
        &mut self,
        stretch: &Stretch<'a>,
        mut each: impl FnMut(f64, &Stretch<'a>, f64),
    ) {
        let end_s = stretch.piece.end_s();
        loop {
            #[expect(clippy::cast_precision_loss, reason = "runs are far below 2^53 samples")]
            let at_s = self.next as f64 / self.rate_per_s;
            if at_s > end_s {
                return;
            }
            let local_s = (at_s - stretch.piece.start_s).clamp(0.0, stretch.piece.duration_s);
            each(at_s, stretch, local_s);
            self.next += 1;
        }
    }
}
