//! What a screen draws of a run: samples at a fixed rate since the last look.

use super::Passing;
use crate::base::quantity::Seconds;
use crate::reading::instrument::{InstrumentError, Instruments, Reading, Recorder};
use crate::stepping::machine::Signal;

/// Samples of some signals, at exactly k divided by the rate; one that falls on an
/// event shows the value before it.
///
/// It takes what passes and keeps the samples until they are drawn. However often
/// the run is looked at, the samples are the same.
///
/// ```
/// use tidewright::live::{LiveRun, Scope};
/// use tidewright::prelude::*;
/// let mut run = LiveRun::new(Setup::default())?;
/// let mut scope = Scope::truth(&[Signal::AirwayPressure, Signal::AirwayFlow], 50.0)?;
/// run.advance(Seconds::s(1.0), |passing| scope.take(passing))?;
/// assert_eq!(scope.drain().count(), 51);
/// run.advance(Seconds::s(2.0), |passing| scope.take(passing))?;
/// let last = scope.drain().last().unwrap();
/// assert_eq!(last.at, Seconds::s(2.0));
/// assert_eq!(last.values[0], run.read(Signal::AirwayPressure)?);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct Scope {
    signals: Vec<Signal>,
    rate_per_s: f64,
    next: u64,
    waiting: Vec<Sample>,
}

/// The signals of a [`Scope`] at one instant, in its order.
#[derive(Clone, Debug, PartialEq)]
pub struct Sample {
    /// Since the start of the run.
    pub at: Seconds,
    /// Their values, each in the unit of its signal.
    pub values: Vec<f64>,
}

impl Scope {
    /// A scope that shows signals as they truly are, so many times a second.
    ///
    /// # Errors
    /// A rate that is not a finite number above 0.
    pub fn truth(signals: &[Signal], rate_per_s: f64) -> Result<Self, InstrumentError> {
        if !(rate_per_s.is_finite() && rate_per_s > 0.0) {
            return Err(InstrumentError {
                what: "rate of samples",
                value: rate_per_s,
                unit: "per second",
                expected: "a finite number above 0",
            });
        }
        Ok(Self { signals: signals.to_vec(), rate_per_s, next: 0, waiting: Vec::new() })
    }

    /// Takes what passes.
    pub fn take(&mut self, passing: &Passing<'_>) {
        let stretch = passing.stretch;
        loop {
            #[expect(clippy::cast_precision_loss, reason = "runs are far below 2^53 samples")]
            let at_s = self.next as f64 / self.rate_per_s;
            if at_s > passing.until_s {
                return;
            }
            // A scope that came late has nothing to show of what is past.
            if at_s > passing.since_s {
                let local_s = (at_s - stretch.piece.start_s).clamp(0.0, stretch.piece.duration_s);
                let value = |&signal| stretch.piece.nearest(signal, local_s);
                let values = self.signals.iter().map(value).collect();
                self.waiting.push(Sample { at: Seconds::s(at_s), values });
            }
            self.next += 1;
        }
    }

    /// The samples since the last time, in order.
    pub fn drain(&mut self) -> impl Iterator<Item = Sample> + '_ {
        self.waiting.drain(..)
    }
}

/// What instruments show of a run: gauge and spirometer between it and the screen.
/// Their noise and their lag are the same however often the run is looked at.
///
/// ```
/// use tidewright::instrument::Instruments;
/// use tidewright::live::{Dials, LiveRun};
/// use tidewright::prelude::*;
/// let mut run = LiveRun::new(Setup::default())?;
/// let mut dials = Dials::new(Instruments::ordinary(7))?;
/// run.advance(Seconds::s(3.0), |passing| dials.take(passing))?;
/// let highest = dials.drain().map(|reading| reading.pressure.as_cmh2o()).fold(0.0, f64::max);
/// assert!((7.0..8.5).contains(&highest));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct Dials {
    recorder: Recorder,
    waiting: Vec<Reading>,
    latest: Option<Reading>,
}

impl Dials {
    /// Instruments at the start of a run.
    ///
    /// # Errors
    /// A value that is out of its range.
    pub fn new(instruments: Instruments) -> Result<Self, InstrumentError> {
        Ok(Self { recorder: Recorder::new(instruments)?, waiting: Vec::new(), latest: None })
    }

    /// Takes what passes.
    pub fn take(&mut self, passing: &Passing<'_>) {
        let Self { recorder, waiting, latest } = self;
        let mut each = |reading: Reading| {
            if reading.at.as_s() > passing.since_s {
                waiting.push(reading);
                *latest = Some(reading);
            }
        };
        match passing.finished() {
            Some(stretch) => recorder.take(stretch, each),
            // What follows of the piece is not over: the instruments look at it again.
            None => recorder.clone().take_until(passing.stretch, passing.until_s, &mut each),
        }
    }

    /// What they show now; nothing before the first reading.
    #[must_use]
    pub fn latest(&self) -> Option<Reading> {
        self.latest
    }

    /// The readings since the last time, in order.
    pub fn drain(&mut self) -> impl Iterator<Item = Reading> + '_ {
        self.waiting.drain(..)
    }
}
