//! A run: a start setup, timed changes, a duration; and the steps that cover it.

use thiserror::Error;

use crate::breath::{Breath, BreathMeter, BreathUnderWay};
use crate::machine::Machine;
use crate::piece::Piece;
use crate::quantity::Seconds;
use crate::setup::Setup;
use crate::setup_error::SetupError;
use crate::step::{Moment, StepError, step};
use crate::trace::Trace;

/// What is to be run.
#[derive(Clone, Debug, PartialEq)]
pub struct Protocol {
    /// The setup at the start.
    pub start: Setup,
    /// Later setups, each whole, in order of time.
    pub changes: Vec<Change>,
    /// How long the run lasts.
    pub duration: Seconds,
}

/// A new setup from a given time on.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Time since the start of the run.
    pub at: Seconds,
    /// The setup from then on.
    pub setup: Setup,
}

/// A protocol that cannot be run.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ProtocolError {
    /// A setup in it cannot be run.
    #[error("from {from_s} s on: {source}")]
    Setup {
        /// When the setup begins to hold, s.
        from_s: f64,
        /// What is wrong with it.
        source: SetupError,
    },
    /// A change is not after the one before it, or is before the start.
    #[error("the change at {at_s} s comes after one at {before_s} s: put changes in order of time")]
    Order {
        /// The time of the change, s.
        at_s: f64,
        /// The time it must not precede, s.
        before_s: f64,
    },
    /// The duration is not a finite number, 0 or more.
    #[error("the run lasts {duration_s} s, and must last a finite time, 0 s or more")]
    Duration {
        /// The duration given, s.
        duration_s: f64,
    },
    /// The lung has another number of compartments than at the start.
    #[error(
        "the lung changes from {before} to {after} compartments at {at_s} s, which no lung does: \
         keep their number for the whole run (a very small compliance closes one)"
    )]
    Compartments {
        /// When, s.
        at_s: f64,
        /// The number at the start.
        before: usize,
        /// The number given.
        after: usize,
    },
    /// The circuit turns from rigid to compressible or back during the run.
    #[error(
        "the circuit changes between rigid and compressible at {at_s} s, which no circuit does: \
         keep its compliance above 0, or at 0, for the whole run"
    )]
    Rigidity {
        /// When, s.
        at_s: f64,
    },
}

/// A protocol made ready to run, as often as wanted.
///
/// ```
/// use tidewright::prelude::*;
/// let protocol = Protocol { start: Setup::default(), changes: vec![], duration: Seconds::s(30.0) };
/// let (breaths, under_way) = Simulation::new(&protocol)?.breaths()?;
/// assert_eq!(breaths[0].ended_by, EndedBy::Pressure);
/// assert!(under_way.is_some());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct Simulation {
    spans: Vec<Span>,
}

#[derive(Clone, Debug)]
struct Span {
    machine: Machine,
    until_s: f64,
}

/// A piece together with the machine that made it.
#[derive(Clone, Copy, Debug)]
pub struct Stretch<'a> {
    /// The machine that was running.
    pub machine: &'a Machine,
    /// What it did.
    pub piece: Piece,
}

impl Simulation {
    /// Makes a protocol ready to run.
    ///
    /// # Errors
    /// A setup that cannot be run, changes out of order, or an endless run.
    pub fn new(protocol: &Protocol) -> Result<Self, ProtocolError> {
        let duration_s = protocol.duration.as_s();
        if !(duration_s.is_finite() && duration_s >= 0.0) {
            return Err(ProtocolError::Duration { duration_s });
        }
        let rigid = |setup: &Setup| setup.circuit.compliance.as_ml_per_cmh2o() == 0.0;
        let compartments = |setup: &Setup| setup.lung.compartments.len();
        let mut spans: Vec<Span> = Vec::with_capacity(protocol.changes.len() + 1);
        let mut from_s = 0.0;
        let ends = protocol.changes.iter().map(|change| change.at.as_s()).chain([f64::INFINITY]);
        let setups = [&protocol.start].into_iter().chain(protocol.changes.iter().map(|c| &c.setup));
        for (setup, end_s) in setups.zip(ends) {
            if end_s.is_nan() || end_s < from_s {
                return Err(ProtocolError::Order { at_s: end_s, before_s: from_s });
            }
            let (before, after) = (compartments(&protocol.start), compartments(setup));
            if before != after {
                return Err(ProtocolError::Compartments { at_s: from_s, before, after });
            }
            if rigid(setup) != rigid(&protocol.start) {
                return Err(ProtocolError::Rigidity { at_s: from_s });
            }
            let machine = Machine::new(setup.clone())
                .map_err(|source| ProtocolError::Setup { from_s, source })?;
            spans.push(Span { machine, until_s: end_s.min(duration_s) });
            from_s = end_s;
        }
        Ok(Self { spans })
    }

    /// How long the run lasts, s.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        self.spans.last().map_or(0.0, |span| span.until_s)
    }

    /// The machines of the run and the time until which each holds, s.
    pub fn machines(&self) -> impl Iterator<Item = (&Machine, f64)> {
        self.spans.iter().map(|span| (&span.machine, span.until_s))
    }

    /// The steps of the run, one after the other, in constant memory.
    #[must_use]
    pub fn steps(&self) -> Steps<'_> {
        let moment = self.spans.first().map(|span| Moment::at_rest(&span.machine));
        Steps { spans: &self.spans, moment }
    }

    /// Every breath of the run, and the one that was under way when it ended.
    ///
    /// # Errors
    /// A run that cannot go on: see [`StepError`].
    pub fn breaths(&self) -> Result<(Vec<Breath>, Option<BreathUnderWay>), StepError> {
        let mut meter = BreathMeter::default();
        let mut breaths = Vec::new();
        for stretch in self.steps() {
            breaths.extend(meter.take(&stretch?));
        }
        Ok((breaths, meter.under_way()))
    }

    /// The whole run, kept in memory.
    ///
    /// # Errors
    /// A run that cannot go on: see [`StepError`].
    pub fn trace(&self) -> Result<Trace<'_>, StepError> {
        let stretches = self.steps().collect::<Result<Vec<_>, _>>()?;
        Ok(Trace { stretches })
    }
}

/// The steps of a run.
#[derive(Clone, Debug)]
pub struct Steps<'a> {
    spans: &'a [Span],
    moment: Option<Moment>,
}

impl<'a> Iterator for Steps<'a> {
    type Item = Result<Stretch<'a>, StepError>;

    fn next(&mut self) -> Option<Self::Item> {
        let mut moment = self.moment?;
        while moment.at_s >= self.spans[0].until_s {
            let (passed, rest) = self.spans.split_first()?;
            let Some(span) = rest.first() else {
                self.moment = None;
                return None;
            };
            // The sum of durations may miss the change by a rounding error; the
            // change itself is exactly at its time.
            moment.at_s = passed.until_s;
            moment = moment.under(&span.machine);
            self.spans = rest;
        }
        let span = &self.spans[0];
        match step(&span.machine, &moment, span.until_s - moment.at_s) {
            Ok(done) => {
                let mut next = done.next;
                if done.piece.ended_by.is_none() {
                    next.at_s = span.until_s;
                }
                self.moment = Some(next);
                Some(Ok(Stretch { machine: &span.machine, piece: done.piece }))
            }
            Err(error) => {
                self.moment = None;
                Some(Err(error))
            }
        }
    }
}
