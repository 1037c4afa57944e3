//! From a figure file and its scenario to the figure.

mod capnogram;
mod gas;
mod loops;
mod need;
mod settled;
mod source;
mod time;
mod trend;

use tidewright::run::{ProtocolError, Simulation};
use tidewright::step::StepError;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Change, TimelineEntry};
use tidewright_scenario::report::{self, Happening};

use crate::data;
use crate::describe;
use crate::error::FigureError;
use crate::figure::{Figure, Look};
use crate::file::{Figure as FigureFile, Show, Size, Version};
use crate::language::{ENGLISH, Quantity};
use crate::layout::Layout;
use crate::stack::Stack;
use crate::waveform::Event;

/// Why a figure file could not be drawn.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DrawFileError {
    /// The changed scenario cannot be run.
    #[error("the run cannot be made: {0}")]
    Protocol(#[from] ProtocolError),
    /// The run stops on its way.
    #[error("the run stops: {0}")]
    Step(#[from] StepError),
    /// The breathing system of the gas cannot be.
    #[error("the gas cannot be followed: {0}")]
    Gas(#[from] tidewright::exchange::ApparatusError),
    /// A setup has no settled breath to measure.
    #[error("`{label}` has no settled breath: {source}")]
    Steady {
        /// Which of the runs.
        label: String,
        /// Why.
        source: tidewright::steady::SteadyError,
    },
    /// A breath that the figure asks for is not in the run.
    #[error("the run has no finished breath {breath} inside the figure: it has {count}")]
    NoBreath {
        /// The breath that was asked for.
        breath: u32,
        /// How many there are.
        count: usize,
    },
    /// Gas is asked for, and the scenario has none.
    #[error(
        "the figure asks for carbon dioxide or oxygen, and the scenario is without gas exchange: \
         write `gas: ()` in the scenario"
    )]
    NoGas,
    /// A breath without a plateau of carbon dioxide.
    #[error("breath {breath} breathes out no plateau of carbon dioxide to measure")]
    NoPlateau {
        /// Which breath.
        breath: u32,
    },
    /// A fresh gas flow at which carbon dioxide would rise without end.
    #[error(
        "`{label}` has no steady state at {ratio:.2} times the minute volume: carbon dioxide rises \
         beyond all measure; begin at a greater `from_ratio`"
    )]
    NoBalance {
        /// Which of the curves.
        label: String,
        /// The fresh gas flow over the minute volume.
        ratio: f64,
    },
    /// A measure without a panel to stand in.
    #[error("a measure needs a panel with {needed}")]
    NoPanel {
        /// The signal that the panel must hold.
        needed: &'static str,
    },
    /// A handout's seed finds no patient near the scenario's at which the breaths
    /// change in the same way.
    #[error("no patient of seed {seed} changes its breaths as the scenario does: try another")]
    NoPatient {
        /// The seed.
        seed: u64,
    },
    /// The figure cannot be drawn.
    #[error(transparent)]
    Figure(#[from] FigureError),
}

impl FigureFile {
    /// Draws the figure of a scenario, which the caller has read from the path in
    /// [`scenario`](Self::scenario): this room opens no file.
    ///
    /// # Errors
    /// [`DrawFileError`] where the run or the drawing fails.
    pub fn draw(&self, scenario: &Scenario, version: Version) -> Result<Figure, DrawFileError> {
        let plain = varied(scenario, &self.set);
        if plain.gas.is_none() && self.show.needs_gas() {
            return Err(DrawFileError::NoGas);
        }
        let teacher = version == Version::Teacher;
        let mut stack = match &self.show {
            Show::Time(time) => time::stack(time, &plain, teacher)?,
            Show::Loop(figure) => loops::stack(figure, &plain, teacher)?,
            Show::Trend(trend) => trend::stack(trend, &plain)?,
            Show::Sweep(sweep) => settled::sweep(sweep, &plain)?,
            Show::Bars(bars) => settled::bars(bars, &plain)?,
            Show::Map(map) => settled::map(map, &plain)?,
            Show::FreshGasNeed(figure) => need::stack(figure, &plain, teacher)?,
        };
        let mut subtitle = report::patient(&plain);
        if let Show::Map(map) = &self.show {
            let Quantity { curve, unit, .. } = ENGLISH.metric(map.metric);
            subtitle += &format!(" · {} {curve} ({unit})", ENGLISH.the_numbers_are);
        }
        stack.title = match version {
            Version::Teacher => &self.title,
            Version::Student => self.question.as_deref().unwrap_or(ENGLISH.question),
        };
        stack.subtitle = &subtitle;
        if !teacher {
            stack.hide_names();
        }
        let look = match self.look {
            Size::Page => Look::PAGE,
            Size::Slide => Look::SLIDE,
        };
        let layout = Layout::new(&stack, &look)?;
        let description = describe::stack(&stack, &layout, teacher);
        let sheet = stack.draw(&layout, &look, self.id.as_str()).map_err(FigureError::from)?;
        let figure = Figure::new(self.id.as_str(), stack.title, description, sheet, &look);
        Ok(figure.with_data(data::csv(&stack)))
    }
}

/// The scenario with changes that hold from its start, after its own.
fn varied(scenario: &Scenario, set: &[Change]) -> Scenario {
    let mut scenario = scenario.clone();
    let after = scenario.timeline.partition_point(|entry| entry.at_s <= 0.0);
    let entries = set.iter().map(|set| TimelineEntry { at_s: 0.0, set: set.clone() });
    scenario.timeline.splice(after..after, entries);
    scenario
}

/// The scenario without what changes on its way.
fn unchanged(scenario: &Scenario) -> Scenario {
    let mut scenario = scenario.clone();
    scenario.timeline.retain(|entry| entry.at_s <= 0.0);
    scenario.faults.clear();
    scenario
}

/// What happens in a part of a run, at one time in one label.
fn happenings(scenario: &Scenario, from_s: f64, to_s: f64) -> Vec<Event> {
    let mut events: Vec<Event> = Vec::new();
    let shown = |at_s: f64| 0.0 < at_s && from_s <= at_s && at_s <= to_s;
    for Happening { at_s, label, .. } in report::happenings(scenario) {
        match events.last_mut() {
            _ if !shown(at_s) => {}
            Some(last) if last.at_s == at_s => last.label += &format!("; {label}"),
            _ => events.push(Event { at_s, label }),
        }
    }
    events
}

/// A simulation of a scenario, at least so long.
fn simulation(scenario: &Scenario, least_s: f64) -> Result<Simulation, ProtocolError> {
    let scenario = Scenario { duration_s: scenario.duration_s.max(least_s), ..scenario.clone() };
    Simulation::new(&scenario.protocol())
}

impl Stack<'_> {
    /// Takes away whatever would answer a quiz.
    fn hide_names(&mut self) {
        self.events.clear();
        self.notes.clear();
        self.said.clear();
        self.breath_ends.clear();
        // Values of a setting tell no answer.
        let is_setting = !self.along.is_empty();
        for (i, name) in self.names.iter_mut().enumerate().filter(|_| !is_setting) {
            *name = letter(i);
        }
        let curves = self.panels.iter_mut().map(|panel| &mut panel.curves);
        for curves in curves {
            let several = curves.len() > 1;
            for (i, curve) in curves.iter_mut().enumerate() {
                curve.label = if several { letter(i) } else { String::new() };
            }
        }
    }
}

/// A label of which no number is parted from its unit.
fn kept_together(label: &str) -> String {
    let mut text = String::new();
    for letter in label.replace("cmH2O", "cmH₂O").chars() {
        let after_number = text.ends_with(|c: char| c.is_ascii_digit());
        text.push(if letter == ' ' && after_number { '\u{a0}' } else { letter });
    }
    text
}

/// A, B, C …
fn letter(index: usize) -> String {
    char::from(b'A' + (index % 26) as u8).to_string()
}
