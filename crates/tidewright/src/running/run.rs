//! A run: a start setup, timed changes, a duration; and the steps that cover it.

use std::sync::Arc;

use thiserror::Error;

use super::gas::{GasPlan, GasRun, GasStretch};
use crate::base::quantity::{Pressure, Seconds};
use crate::exchange::GasError;
use crate::reading::breath::{Breath, BreathMeter, BreathUnderWay};
use crate::reading::trace::Trace;
use crate::road::Solver;
use crate::running::live::Course;
use crate::running::repeat::Repeat;
use crate::setup::{Setup, SetupError};
use crate::stepping::machine::Machine;
use crate::stepping::phase::Cause;
use crate::stepping::piece::Piece;
pub use crate::stepping::piece::Stretch;
use crate::stepping::step::{Misplaced, Moment, StepError};

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
    #[error(
        "the change at {at_s} s stands after {before_s} s: put changes in order of time, from 0 s on"
    )]
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
    /// A place that holds gas vanishes during the run, or one appears that would
    /// have to hold gas already.
    #[error(
        "the {place} cannot come or go at {at_s} s, as its gas would have no place: describe it for the \
         whole run (a very small compliance makes it hold almost nothing)"
    )]
    Structure {
        /// When, s.
        at_s: f64,
        /// What holds the gas.
        place: &'static str,
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
    machine: Arc<Machine>,
    until_s: f64,
}

impl Simulation {
    /// Makes a protocol ready to run.
    ///
    /// # Errors
    /// A setup that cannot be run, changes out of order, or an endless run.
    pub fn new(protocol: &Protocol) -> Result<Self, ProtocolError> {
        Self::with_solver(protocol, Solver::Auto)
    }

    /// As [`Simulation::new`], on a road of one's choice.
    ///
    /// # Errors
    /// As [`Simulation::new`].
    pub fn with_solver(protocol: &Protocol, solver: Solver) -> Result<Self, ProtocolError> {
        let duration_s = protocol.duration.as_s();
        if !(duration_s.is_finite() && duration_s >= 0.0) {
            return Err(ProtocolError::Duration { duration_s });
        }
        let mut spans: Vec<Span> = Vec::with_capacity(protocol.changes.len() + 1);
        let mut from_s = 0.0;
        let ends = protocol.changes.iter().map(|change| change.at.as_s()).chain([f64::INFINITY]);
        let setups = [&protocol.start].into_iter().chain(protocol.changes.iter().map(|c| &c.setup));
        for (setup, end_s) in setups.zip(ends) {
            if end_s.is_nan() || end_s < from_s {
                return Err(ProtocolError::Order { at_s: end_s, before_s: from_s });
            }
            // A change that changes nothing leaves no trace in the run.
            if let Some(last) = spans.last_mut()
                && last.machine.setup() == setup
            {
                last.until_s = end_s.min(duration_s);
                from_s = end_s;
                continue;
            }
            let machine = Machine::with_solver(setup.clone(), solver)
                .map_err(|source| ProtocolError::Setup { from_s, source })?;
            if let Some(before) = spans.last() {
                before.machine.check_successor(&machine).map_err(|Misplaced { place }| {
                    ProtocolError::Structure { at_s: from_s, place }
                })?;
            }
            spans.push(Span { machine: Arc::new(machine), until_s: end_s.min(duration_s) });
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
        self.spans.iter().map(|span| (&*span.machine, span.until_s))
    }

    /// The steps of the run, one after the other, in constant memory.
    #[must_use]
    pub fn steps(&self) -> Steps<'_> {
        let course = self.spans.first().map(|span| Course::at_rest(&span.machine));
        Steps { spans: &self.spans, over: course.is_none(), course, pause_s: f64::INFINITY }
    }

    /// Every breath of the run, and the one that was under way when it ended.
    ///
    /// Once breathing has settled, and each breath ends in exactly the state that
    /// it began in, the later ones are written down without being worked out
    /// again: the bits are those of [`Simulation::breaths_one_by_one`].
    ///
    /// # Errors
    /// A run that cannot go on: see [`StepError`].
    pub fn breaths(&self) -> Result<(Vec<Breath>, Option<BreathUnderWay>), StepError> {
        self.measure(true).map(|run| (run.breaths, run.under_way))
    }

    /// As [`Simulation::breaths`], and the same to the last bit, with every breath
    /// worked out: for checks and for measuring.
    ///
    /// # Errors
    /// As [`Simulation::breaths`].
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// let start = Setup::default();
    /// let protocol = Protocol { start, changes: vec![], duration: Seconds::s(600.0) };
    /// let simulation = Simulation::new(&protocol)?;
    /// assert_eq!(simulation.breaths(), simulation.breaths_one_by_one());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn breaths_one_by_one(&self) -> Result<(Vec<Breath>, Option<BreathUnderWay>), StepError> {
        self.measure(false).map(|run| (run.breaths, run.under_way))
    }

    pub(crate) fn measure(&self, recognise: bool) -> Result<Measured, StepError> {
        let mut run = Measured::default();
        let (mut meter, mut repeat) = (BreathMeter::default(), Repeat::default());
        let mut steps = self.steps();
        let Some(mut piece) = steps.no_piece() else { return Ok(run) };
        let mut spans_left = steps.spans.len();
        while let Some(machine) = steps.go_on(&mut piece) {
            let machine = machine?;
            let finished = meter.take_piece(&piece);
            if let Some(breath) = finished {
                run.breaths.push(breath);
                run.worked_out += 1;
            }
            if !recognise {
                continue;
            }
            repeat.note(&piece);
            if steps.spans.len() != spans_left {
                spans_left = steps.spans.len();
                repeat.forget();
            }
            // Where a breath ends for another reason, after standby, it does not repeat.
            if finished.is_some()
                && piece.ended_by == Some(Cause::ExpiratoryTimeOver)
                && let (Some(course), Some(span)) = (&mut steps.course, steps.spans.first())
            {
                let settings = &machine.setup().ventilator;
                let breaths = &mut run.breaths;
                meter.skip(repeat.breath_ended(
                    breaths,
                    &mut course.moment,
                    span.until_s,
                    settings,
                ));
            }
        }
        run.under_way = meter.under_way();
        Ok(run)
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

/// The breaths of a run.
#[derive(Debug, Default)]
pub(crate) struct Measured {
    pub breaths: Vec<Breath>,
    pub under_way: Option<BreathUnderWay>,
    /// How many of the breaths were worked out.
    pub worked_out: usize,
}

/// The steps of a run.
#[derive(Clone, Debug)]
pub struct Steps<'a> {
    spans: &'a [Span],
    /// The run as it goes on; `None` without a span.
    course: Option<Course>,
    over: bool,
    pause_s: f64,
}

impl Steps<'_> {
    /// Where the run is; `None` when it is over.
    #[must_use]
    pub fn moment(&self) -> Option<&Moment> {
        self.course.as_ref().filter(|_| !self.over).map(|course| &course.moment)
    }

    /// Ends the next stretch at this time at the latest, so that something can be
    /// decided then.
    pub fn pause_at(&mut self, at: Seconds) {
        self.pause_s = at.as_s();
    }

    /// Lets the patient begin a breath of its own now: see [`Moment::breathing_in`].
    pub fn breathe_in(&mut self, amplitude: Pressure, lasts: Seconds) {
        if let Some(course) = &mut self.course {
            course.moment = course.moment.breathing_in(amplitude, lasts);
        }
    }

    /// Lets the run follow gas from its start on.
    pub(crate) fn follow_gas(&mut self, plan: &GasPlan) -> Result<(), GasError> {
        if let (Some(course), Some(span)) = (&mut self.course, self.spans.first()) {
            course.gas = Some(Box::new(GasRun::begin(plan, &span.machine)?));
        }
        Ok(())
    }

    pub(crate) fn gas(&self) -> Option<&GasRun> {
        self.course.as_ref()?.gas.as_deref()
    }

    pub(crate) fn gas_mut(&mut self) -> Option<&mut GasRun> {
        self.course.as_mut()?.gas.as_deref_mut()
    }
}

impl<'a> Iterator for Steps<'a> {
    type Item = Result<Stretch<'a>, StepError>;

    #[inline]
    fn next(&mut self) -> Option<Self::Item> {
        let mut piece = self.no_piece()?;
        let gone = self.go_on(&mut piece)?;
        Some(gone.map(|_| Stretch::from(piece)))
    }
}

/// A stretch, and the gas along it.
type Breathed<'a> = (Stretch<'a>, Option<GasStretch>);

impl<'a> Steps<'a> {
    /// The next step with the gas along it.
    pub(crate) fn next_with_gas(&mut self) -> Option<Result<Breathed<'a>, StepError>> {
        let stretch = match self.next()? {
            Ok(stretch) => stretch,
            Err(error) => return Some(Err(error)),
        };
        let gas = self.gas_mut().map(|gas| gas.take(&stretch));
        Some(Ok((stretch, gas)))
    }

    /// A piece for the next step to write to; `None` when the run is over.
    #[inline]
    fn no_piece(&self) -> Option<Piece<'a>> {
        Some(Piece::none(&self.spans.first()?.machine, self.moment()?))
    }

    /// The next step in the place of the one before, and the machine that made it.
    #[inline]
    fn go_on(&mut self, piece: &mut Piece<'a>) -> Option<Result<&'a Machine, StepError>> {
        let course = self.course.as_mut().filter(|_| !self.over)?;
        while course.moment.at_s >= self.spans[0].until_s {
            let (passed, rest) = self.spans.split_first()?;
            let Some(span) = rest.first() else {
                self.over = true;
                return None;
            };
            // The sum of durations may miss the change by a rounding error; the
            // change itself is exactly at its time.
            course.moment.at_s = passed.until_s;
            course.moment = course.moment.passed_on(&span.machine, &passed.machine);
            self.spans = rest;
        }
        let span = &self.spans[0];
        let pause_s = if self.pause_s > course.moment.at_s { self.pause_s } else { f64::INFINITY };
        let stop_s = course.prepare(pause_s.min(span.until_s));
        if let Err(error) = Course::breathe(&span.machine, &mut course.moment, stop_s, piece) {
            self.over = true;
            return Some(Err(error));
        }
        Some(Ok(&span.machine))
    }
}
