//! The waveform figure: pressure, flow and volume over one time axis, and the
//! capnogram where there is one.

use crate::file::Trace;
use crate::file::language::{ENGLISH, Quantity};
use crate::paper::curve::{Piece, clip};
use crate::paper::error::FigureError;
use crate::paper::figure::{Figure, FlowUnit, Look};
use crate::paper::theme::{self, Pen};
use crate::plot::data;
use crate::plot::describe;
use crate::plot::event::{BreathEnd, Event, Phase, in_range};
use crate::plot::layout::Layout;
use crate::plot::panel::{Curve, Panel};
use crate::plot::stack::Stack;
use crate::plot::ticks::number;

/// What a waveform figure shows: plain data in clinical units.
///
/// Curves are given as pieces; where two pieces meet in time but not in value,
/// the curve jumps and is drawn so. Everything outside the window is left out.
///
/// ```
/// use tidewright::breath::EndedBy;
/// use tidewright::phase::PhaseKind;
/// use tidewright_figures::{BreathEnd, Look, Phase, Waveforms};
///
/// let figure = Waveforms {
///     title: "One breath into a lung of 5 mL/cmH2O".into(),
///     start_s: 0.0,
///     end_s: 2.0,
///     airway_pressure_cmh2o: vec![vec![(0.0, 0.0), (1.0, 10.0)], vec![(1.0, 0.0), (2.0, 0.0)]],
///     airway_flow_ml_s: vec![vec![(0.0, 50.0), (1.0, 50.0)], vec![(1.0, -50.0), (2.0, -50.0)]],
///     lung_volume_ml: vec![vec![(0.0, 0.0), (1.0, 50.0), (2.0, 0.0)]],
///     phases: vec![Phase { start_s: 0.0, end_s: 1.0, kind: PhaseKind::Inspiration }],
///     breath_ends: vec![BreathEnd { at_s: 1.0, pressure_cmh2o: 10.0, by: EndedBy::Pressure }],
///     ..Waveforms::default()
/// }
/// .figure(&Look::default())?;
///
/// assert!(figure.to_svg().starts_with("<svg"));
/// assert!(figure.description().contains("10 cmH2O"));
/// # Ok::<(), tidewright_figures::FigureError>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Waveforms {
    /// Short name that starts every id inside the SVG, so that several figures
    /// can share one page. Letters, digits and hyphens are kept.
    pub id: String,
    /// Heading.
    pub title: String,
    /// A line below the heading, such as the animal and the settings.
    pub subtitle: Option<String>,
    /// Start of the time axis, s.
    pub start_s: f64,
    /// End of the time axis, s.
    pub end_s: f64,
    /// Pressure at the airway, cmH2O.
    pub airway_pressure_cmh2o: Vec<Piece>,
    /// Flow at the airway, mL/s, positive into the patient.
    pub airway_flow_ml_s: Vec<Piece>,
    /// Gas in the lung above its resting volume, mL.
    pub lung_volume_ml: Vec<Piece>,
    /// Carbon dioxide as the monitor shows it, mmHg, in a panel of its own; empty for
    /// a run without gas exchange.
    pub capnogram_mmhg: Vec<Piece>,
    /// Phases of the ventilator in their order.
    pub phases: Vec<Phase>,
    /// What ended each inspiration, in order of time.
    pub breath_ends: Vec<BreathEnd>,
    /// Changes to point out, in order of time.
    pub events: Vec<Event>,
    /// The pressure at which the ventilator ends inspiration, cmH2O, drawn as a
    /// thin line; empty to leave it out.
    pub cycling_pressure_cmh2o: Vec<Piece>,
    /// Curves to compare with, drawn in grey behind the others.
    pub ghost: Option<Ghost>,
}

/// Curves to compare with, such as the same breaths without the fault.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Ghost {
    /// What they are, in a word or two.
    pub label: String,
    /// Pressure at the airway, cmH2O.
    pub airway_pressure_cmh2o: Vec<Piece>,
    /// Flow at the airway, mL/s.
    pub airway_flow_ml_s: Vec<Piece>,
    /// Gas in the lung above its resting volume, mL.
    pub lung_volume_ml: Vec<Piece>,
    /// Carbon dioxide as the monitor shows it, mmHg.
    pub capnogram_mmhg: Vec<Piece>,
}

impl Waveforms {
    /// Draws the figure.
    ///
    /// # Errors
    /// If the window is empty, a curve has no point in it or holds a value that no
    /// axis can show, or the look leaves no room for the panels.
    pub fn figure(&self, look: &Look) -> Result<Figure, FigureError> {
        let (start_s, end_s) = (self.start_s, self.end_s);
        if !(in_range(start_s) && in_range(end_s) && end_s - start_s >= 1e-3) {
            return Err(FigureError::Window { start_s, end_s });
        }
        self.check_marks()?;
        let mut stack = Stack {
            title: &self.title,
            subtitle: self.subtitle.as_deref().unwrap_or_default(),
            start_s,
            end_s,
            along: ENGLISH.time,
            names: Vec::new(),
            notes: Vec::new(),
            said: Vec::new(),
            phases: self
                .phases
                .iter()
                .filter(|phase| phase.start_s < end_s && phase.end_s > start_s)
                .copied()
                .collect(),
            breath_ends: self.shown_ends().copied().collect(),
            events: self.events.iter().filter(|event| self.shows(event.at_s)).cloned().collect(),
            panels: vec![self.pressure()?, self.flow(look)?, self.volume()?],
        };
        stack.panels.extend(self.capnogram()?);
        let layout = Layout::new(&stack, look)?;
        let ghost = self.ghost.as_ref().map(|ghost| ghost.label.as_str());
        let description = describe::waveforms(&stack, &layout, ghost);
        let sheet = stack.draw(&layout, look, &self.id)?;
        let data = data::csv(&stack);
        Ok(Figure::new(&self.id, &self.title, description, sheet, look).with_data(data))
    }

    fn shows(&self, time_s: f64) -> bool {
        (self.start_s..=self.end_s).contains(&time_s)
    }

    fn shown_ends(&self) -> impl Iterator<Item = &BreathEnd> {
        self.breath_ends.iter().filter(|end| self.shows(end.at_s))
    }

    /// Whatever is marked stands at a time and a pressure that axes can show, in
    /// order of time.
    fn check_marks(&self) -> Result<(), FigureError> {
        let ends = self.breath_ends.iter();
        check_order("the end of a breath", ends.map(|end| (end.at_s, end.at_s)))?;
        let phases = self.phases.iter();
        check_order("a phase", phases.map(|phase| (phase.start_s, phase.end_s)))?;
        let events = self.events.iter();
        check_order("a change", events.map(|event| (event.at_s, event.at_s)))?;
        let curve = "the end of a breath";
        match self.breath_ends.iter().find(|end| !in_range(end.pressure_cmh2o)) {
            None => Ok(()),
            Some(&BreathEnd { at_s, pressure_cmh2o: value, .. }) => {
                Err(FigureError::Value { curve, at_s, value })
            }
        }
    }

    fn pressure(&self) -> Result<Panel, FigureError> {
        let mut panel = Panel {
            marked: self.shown_ends().map(|end| end.pressure_cmh2o).collect(),
            ..Panel::of(
                Quantity {
                    key: "pressure",
                    axis: "Pressure",
                    short: "P",
                    curve: "",
                    unit: "cmH₂O",
                    suffix: "cmh2o",
                },
                1.0,
            )
        };
        let reference = self.window("the cycling pressure", &self.cycling_pressure_cmh2o, 1.0)?;
        if let Some(&(_, level)) = reference.iter().flatten().next() {
            let steady = reference.iter().flatten().all(|&(_, y)| y == level);
            panel.curves.push(Curve {
                label: match steady {
                    true => format!("cycling pressure\u{a0}{}", number(level)),
                    false => "cycling pressure".to_owned(),
                },
                pen: theme::REFERENCE,
                pieces: reference,
            });
        }
        let ghost = self.ghost.as_ref().map(|ghost| &ghost.airway_pressure_cmh2o);
        self.trace(
            &mut panel,
            "airway pressure",
            theme::PRESSURE,
            1.0,
            &self.airway_pressure_cmh2o,
            ghost,
        )?;
        Ok(panel)
    }

    fn flow(&self, look: &Look) -> Result<Panel, FigureError> {
        let (unit, suffix, factor) = match look.flow_unit {
            FlowUnit::LPerMin => ("L/min", "l_min", 0.06),
            FlowUnit::MlPerS => ("mL/s", "ml_s", 1.0),
        };
        let mut panel = Panel {
            ..Panel::of(
                Quantity { key: "flow", axis: "Flow", short: "Flow", curve: "", unit, suffix },
                factor,
            )
        };
        let ghost = self.ghost.as_ref().map(|ghost| &ghost.airway_flow_ml_s);
        self.trace(&mut panel, "airway flow", theme::FLOW, factor, &self.airway_flow_ml_s, ghost)?;
        Ok(panel)
    }

    fn volume(&self) -> Result<Panel, FigureError> {
        let mut panel = Panel {
            ..Panel::of(
                Quantity {
                    key: "volume",
                    axis: "Volume",
                    short: "Volume",
                    curve: "",
                    unit: "mL",
                    suffix: "ml",
                },
                1.0,
            )
        };
        let ghost = self.ghost.as_ref().map(|ghost| &ghost.lung_volume_ml);
        self.trace(&mut panel, "lung volume", theme::VOLUME, 1.0, &self.lung_volume_ml, ghost)?;
        Ok(panel)
    }

    /// Nothing for a run without gas exchange.
    fn capnogram(&self) -> Result<Option<Panel>, FigureError> {
        if self.capnogram_mmhg.is_empty() {
            return Ok(None);
        }
        let quantity = ENGLISH.signal(Trace::Capnogram);
        let (mut panel, pen) = (Panel::of(quantity, 1.0), theme::CARBON_DIOXIDE);
        let ghost = self.ghost.as_ref().map(|ghost| &ghost.capnogram_mmhg);
        self.trace(&mut panel, quantity.curve, pen, 1.0, &self.capnogram_mmhg, ghost)?;
        Ok(Some(panel))
    }

    /// Adds a curve to its panel, the ghost behind it.
    fn trace(
        &self,
        panel: &mut Panel,
        label: &'static str,
        pen: Pen,
        factor: f64,
        pieces: &[Piece],
        ghost: Option<&Vec<Piece>>,
    ) -> Result<(), FigureError> {
        if let (Some(ghost), Some(pieces)) = (&self.ghost, ghost) {
            let pieces = self.window("the ghost", pieces, factor)?;
            if !pieces.is_empty() {
                let label = ghost.label.clone();
                panel.curves.push(Curve { label, pen: theme::GHOST, pieces });
            }
        }
        let pieces = self.window(label, pieces, factor)?;
        if pieces.is_empty() {
            let (start_s, end_s) = (self.start_s, self.end_s);
            return Err(FigureError::Empty { curve: label, start_s, end_s });
        }
        let label = label.to_owned();
        panel.curves.push(Curve { label, pen, pieces });
        Ok(())
    }

    /// The checked part of a curve inside the window, in the panel's unit.
    fn window(
        &self,
        curve: &'static str,
        pieces: &[Piece],
        factor: f64,
    ) -> Result<Vec<Piece>, FigureError> {
        let mut last = f64::NEG_INFINITY;
        for &(at_s, value) in pieces.iter().flatten() {
            if !(in_range(value) && in_range(at_s)) {
                return Err(FigureError::Value { curve, at_s, value });
            }
            if at_s < last {
                return Err(FigureError::Backwards { curve, from_s: last, to_s: at_s });
            }
            last = at_s;
        }
        let mut pieces = clip(pieces, self.start_s, self.end_s);
        for (_, value) in pieces.iter_mut().flatten() {
            *value *= factor;
        }
        Ok(pieces)
    }
}

/// Spans of time (start, end) that follow each other.
fn check_order(
    curve: &'static str,
    spans: impl Iterator<Item = (f64, f64)>,
) -> Result<(), FigureError> {
    let mut from_s = f64::NEG_INFINITY;
    for value in spans.flat_map(|(start_s, end_s)| [start_s, end_s]) {
        if !in_range(value) {
            return Err(FigureError::Value { curve, at_s: value, value });
        }
        if value < from_s {
            return Err(FigureError::Backwards { curve, from_s, to_s: value });
        }
        from_s = value;
    }
    Ok(())
}
