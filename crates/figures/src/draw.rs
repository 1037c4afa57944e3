//! From a figure file and its scenario to the figure.

mod capnogram;
mod circuit;
mod error;
mod gas;
mod loops;
mod need;
mod run;
mod settled;
mod source;
mod squeeze;
mod time;
mod trend;

pub use circuit::draw_circuit;
pub use error::DrawFileError;

use tidewright_scenario::Scenario;
use tidewright_scenario::report;

use self::run::varied;
use crate::file::language::ENGLISH;
use crate::file::{Figure as FigureFile, LoopKind, Show, Version};
use crate::paper::error::FigureError;
use crate::paper::figure::{Figure, Look};
use crate::paper::theme;
use crate::plot::data;
use crate::plot::describe;
use crate::plot::layout::Layout;
use crate::plot::panel::Curve;
use crate::plot::stack::Stack;

impl FigureFile {
    /// Draws the figure of a scenario, which the caller has read from the path in
    /// [`scenario`](Self::scenario): this room opens no file.
    ///
    /// # Errors
    /// [`DrawFileError`] where the run or the drawing fails.
    pub fn draw(&self, scenario: &Scenario, version: Version) -> Result<Figure, DrawFileError> {
        self.draw_in(self.look.look(), scenario, version)
    }

    /// Draws it in a look, or in a larger one of the same proportions where that has no
    /// room.
    fn draw_in(
        &self,
        mut look: Look,
        scenario: &Scenario,
        version: Version,
    ) -> Result<Figure, DrawFileError> {
        let plain = varied(scenario, &self.set);
        if plain.gas.is_none() && self.show.needs_gas() {
            return Err(DrawFileError::NoGas);
        }
        let teacher = version == Version::Teacher;
        let title = match version {
            Version::Teacher => &self.title,
            Version::Student => self.question.as_deref().unwrap_or(ENGLISH.question),
        };
        let mut stack = match &self.show {
            Show::Time(time) => time::stack(time, &plain, teacher)?,
            Show::Loop(figure) => match figure.of {
                LoopKind::PressureVolume => loops::stack(figure, &plain, loops::PRESSURE_VOLUME)?,
                LoopKind::FlowVolume => loops::stack(figure, &plain, loops::FLOW_VOLUME)?,
                LoopKind::CarbonDioxideVolume => capnogram::stack(figure, &plain, teacher)?,
            },
            Show::Trend(trend) => trend::stack(trend, &plain)?,
            Show::Sweep(sweep) => settled::sweep(sweep, &plain)?,
            Show::Bars(bars) => settled::bars(bars, &plain)?,
            Show::Map(map) => settled::map(map, &plain)?,
            Show::FreshGasNeed(figure) => need::stack(figure, &plain, teacher)?,
            Show::Squeeze(test) => squeeze::stack(test, &plain)?,
            Show::Circuit(drawing) => {
                let heading = (self.id.as_str(), title);
                loop {
                    match circuit::figure(drawing, &plain, heading, &look, teacher) {
                        Err(DrawFileError::Figure(error)) => {
                            look = look.grown_for(&error).ok_or(error)?;
                        }
                        other => return other,
                    }
                }
            }
        };
        let mut subtitle = report::patient(&plain);
        if let Show::Map(map) = &self.show {
            let (words, unit) = (map.metric.words().to_lowercase(), map.metric.unit().axis);
            subtitle += &format!(" · {} {words} ({unit})", ENGLISH.the_numbers_are);
        }
        if let Show::Squeeze(_) = &self.show {
            subtitle = squeeze::pressed_at(&plain);
        }
        stack.title = title;
        stack.subtitle = &subtitle;
        if !teacher {
            stack.hide_names();
        }
        let layout = loop {
            match Layout::new(&stack, &look) {
                Ok(layout) => break layout,
                Err(error) => look = look.grown_for(&error).ok_or(error)?,
            }
        };
        let description = describe::stack(&stack, &layout, teacher);
        let sheet = stack.draw(&layout, &look, self.id.as_str()).map_err(FigureError::from)?;
        let figure = Figure::new(self.id.as_str(), stack.title, description, sheet, &look);
        Ok(figure.with_data(data::csv(&stack)))
    }
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
            let asked: Vec<&mut Curve> =
                curves.iter_mut().filter(|curve| !is_left_alone(curve)).collect();
            let several = asked.len() > 1;
            for (i, curve) in asked.into_iter().enumerate() {
                curve.label = if several { letter(i) } else { String::new() };
            }
        }
    }
}

/// Whether a curve is a setting that nobody touched, which tells no answer.
fn is_left_alone(curve: &Curve) -> bool {
    let mut levels = curve.pieces.iter().flatten().map(|point| point.1);
    let first = levels.next();
    curve.pen == theme::REFERENCE && levels.all(|level| Some(level) == first)
}

/// A, B, C …
fn letter(index: usize) -> String {
    char::from(b'A' + (index % 26) as u8).to_string()
}
