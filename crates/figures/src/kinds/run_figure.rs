//! The figure of a run, gathered while the run goes on.

use std::ops::Range;

use thiserror::Error;
use tidewright::coupled::GasPoint;
use tidewright::run::{Simulation, Stretch};
use tidewright::trace::Trace;
use tidewright_scenario::Scenario;
use tidewright_scenario::report::{self, Happening, RunError};

use crate::kinds::waveform::Waveforms;
use crate::paper::error::FigureError;
use crate::paper::figure::{Figure, Look};
use crate::plot::event::Event;

/// Most stretches that a figure shows; more would be a solid block of ink.
const MOST_STRETCHES: usize = 20_000;
/// Shortest part of a run that is drawn, s.
const SHORTEST_S: f64 = 1e-3;

/// Why a run has no figure.
#[derive(Debug, Error)]
pub enum RunFigureError {
    /// The part is not within the run.
    #[error("a figure from {from_s} to {to_s} s is not a part of the run, which lasts {run_s} s")]
    NoPart {
        /// Its start, s.
        from_s: f64,
        /// Its end, s.
        to_s: f64,
        /// How long the run lasts, s.
        run_s: f64,
    },
    /// More breaths than can be told apart.
    #[error("this part of the run has too many breaths for a figure")]
    Overfull,
    /// The run cannot be carried through.
    #[error(transparent)]
    Run(#[from] RunError),
    /// The figure cannot be drawn.
    #[error(transparent)]
    Figure(#[from] FigureError),
}

/// The part of a run that is drawn, s: from its start or `from_s` to its end or `to_s`.
///
/// # Errors
/// [`RunFigureError::NoPart`].
pub fn part_of_run(
    from_s: Option<f64>,
    to_s: Option<f64>,
    run_s: f64,
) -> Result<Range<f64>, RunFigureError> {
    let (from_s, to_s) = (from_s.unwrap_or(0.0), to_s.unwrap_or(run_s));
    if 0.0 <= from_s && to_s <= run_s && to_s - from_s >= SHORTEST_S {
        return Ok(from_s..to_s);
    }
    Err(RunFigureError::NoPart { from_s, to_s, run_s })
}

/// Keeps what the figure of a run needs while the run goes on.
///
/// ```
/// use tidewright_figures::RunFigure;
/// let scenario = tidewright_scenario::parse("demo.ron", tidewright_scenario::DEMO)?;
/// let figure = RunFigure::whole(&scenario)?;
/// assert!(figure.to_svg().contains(">leak"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug)]
pub struct RunFigure<'a> {
    window_s: Range<f64>,
    stretches: Vec<Stretch<'a>>,
    gas: Vec<GasPoint>,
    overfull: bool,
}

impl<'a> RunFigure<'a> {
    /// A figure of a part of a run, s, that has nothing yet.
    #[must_use]
    pub fn of(window_s: Range<f64>) -> Self {
        Self { window_s, stretches: Vec::new(), gas: Vec::new(), overfull: false }
    }

    /// Takes the next stretch, and what the gas did along it.
    pub fn take(&mut self, stretch: &Stretch<'a>, gas: &[GasPoint]) {
        let piece = &stretch.piece;
        if piece.end_s() < self.window_s.start || piece.start_s > self.window_s.end {
            return;
        }
        if self.stretches.len() < MOST_STRETCHES {
            self.stretches.push(stretch.clone());
            self.gas.extend_from_slice(gas);
        } else {
            self.overfull = true;
        }
    }

    /// Takes gas that was gathered apart from the stretches, in order of time.
    pub fn take_gas(&mut self, points: &[GasPoint]) {
        self.gas.extend_from_slice(points);
    }

    /// Draws a run of a scenario, with what its file lets happen.
    ///
    /// # Errors
    /// [`RunFigureError`].
    pub fn draw(self, scenario: &Scenario) -> Result<Figure, RunFigureError> {
        let subtitle = Some(report::patient(scenario));
        let happenings = report::happenings(scenario).into_iter();
        let events = happenings.map(|Happening { at_s, label, .. }| (at_s, label));
        self.drawn(scenario, subtitle, together(events))
    }

    /// Draws a session of a lesson, with what happened in it: times, s, and labels.
    ///
    /// # Errors
    /// [`RunFigureError`].
    pub fn draw_session(
        self,
        scenario: &Scenario,
        events: impl IntoIterator<Item = (f64, String)>,
    ) -> Result<Figure, RunFigureError> {
        let events = events.into_iter().map(|(at_s, label)| Event { at_s, label });
        self.drawn(scenario, None, events.collect())
    }

    fn drawn(
        self,
        scenario: &Scenario,
        subtitle: Option<String>,
        events: Vec<Event>,
    ) -> Result<Figure, RunFigureError> {
        if self.overfull {
            return Err(RunFigureError::Overfull);
        }
        let waveforms = Waveforms {
            id: scenario.id.to_string(),
            title: scenario.title.clone().unwrap_or_else(|| scenario.id.to_string()),
            subtitle,
            events,
            ..Waveforms::from_run(&Trace { stretches: self.stretches }, self.window_s)
                .with_gas(&self.gas)
        };
        Ok(waveforms.figure(&Look::PAGE)?)
    }

    /// The figure of a whole run.
    ///
    /// # Errors
    /// [`RunFigureError`].
    pub fn whole(scenario: &Scenario) -> Result<Figure, RunFigureError> {
        let simulation = Simulation::new(&scenario.protocol()).map_err(RunError::from)?;
        let mut figure = RunFigure::of(0.0..scenario.duration_s);
        report::watch(scenario, &simulation, |progress| {
            figure.take(progress.stretch, progress.gas.map_or(&[], |gas| &gas.points));
            Ok(())
        })?;
        figure.draw(scenario)
    }
}

/// Events of which those at one time share a label.
pub(crate) fn together(events: impl IntoIterator<Item = (f64, String)>) -> Vec<Event> {
    let mut all: Vec<Event> = Vec::new();
    for (at_s, label) in events {
        match all.last_mut() {
            Some(last) if last.at_s == at_s => last.label += &format!("; {label}"),
            _ => all.push(Event { at_s, label }),
        }
    }
    all
}
