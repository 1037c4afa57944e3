//! Charts of plain numbers: curves over any axis, and maps over two.

use std::fmt::Write as _;

use tidewright_scenario::measure::BreathMeasure;

use crate::file::language::Quantity;
use crate::paper::curve::Piece;
use crate::paper::error::FigureError;
use crate::paper::figure::{Figure, Look};
use crate::paper::theme::{self, Pen};
use crate::plot::data;
use crate::plot::describe;
use crate::plot::event::in_range;
use crate::plot::layout::Layout;
use crate::plot::panel::{Block, Curve, Panel, share_key};
use crate::plot::stack::Stack;
use crate::plot::ticks::number;

/// Most curves of a panel, each with a pen of its own.
const MOST_CURVES: usize = theme::FAMILY.len();
/// Most panels that leave each of them readable.
const MOST_PANELS: usize = 4;
/// Most columns and rows of a map that leave room for a number in each cell.
const MOST_NUMBERED: usize = 8;
/// Most columns or rows of a map: smaller cells would be thinner than a line.
const MOST_CELLS: usize = 100;
/// Most rows of a map that have their values beside them.
const MOST_NAMED: usize = 10;

/// What stands above a chart, and its name.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Heading<'a> {
    /// Short name that starts every id inside the SVG.
    pub id: &'a str,
    /// Heading.
    pub title: &'a str,
    /// A line below it.
    pub subtitle: &'a str,
}

/// What is measured along a value axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measure {
    /// Column of the data: `peak-pressure`.
    pub key: &'static str,
    /// Name of the axis: `Peak pressure`.
    pub name: &'static str,
    /// The same where there is little room.
    pub short: &'static str,
    /// Unit as an axis writes it: `cmH₂O`.
    pub unit: &'static str,
    /// Unit as the end of a column's name: `cmh2o`.
    pub suffix: &'static str,
}

impl From<BreathMeasure> for Measure {
    fn from(measure: BreathMeasure) -> Self {
        let Quantity { key, axis: name, short, unit, suffix, .. } = Quantity::of(measure);
        Self { key, name, short, unit, suffix }
    }
}

impl Measure {
    fn panel(self) -> Panel {
        let Self { key, name, short, unit, suffix } = self;
        Panel::of(Quantity { key, axis: name, short, curve: name, unit, suffix }, 0.01)
    }
}

/// Curves over one axis, in up to four panels below each other.
///
/// ```
/// use tidewright_figures::{Chart, ChartCurve, ChartPanel, Heading, Line, Look, Measure};
/// let volume = Measure {
///     key: "tidal-volume", name: "Tidal volume", short: "VT", unit: "mL", suffix: "ml",
/// };
/// let curve = ChartCurve {
///     label: "stiff lung".into(),
///     line: Line::Family(0),
///     pieces: vec![vec![(6.0, 20.0), (12.0, 50.0)]],
/// };
/// let figure = Chart {
///     heading: Heading { id: "volume", title: "Volume over pressure", subtitle: "" },
///     along: "Cycling pressure (cmH₂O)".into(),
///     panels: vec![ChartPanel { measure: volume, curves: vec![curve] }],
/// }
/// .figure(&Look::default())?;
/// assert!(figure.to_csv().starts_with("curve,cycling_pressure_cmh2o,tidal_volume_ml,"));
/// # Ok::<(), tidewright_figures::FigureError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Chart<'a> {
    /// What stands above it.
    pub heading: Heading<'a>,
    /// Name and unit of the shared axis.
    pub along: String,
    /// One to four panels.
    pub panels: Vec<ChartPanel>,
}

/// One panel of a [`Chart`].
#[derive(Clone, Debug, PartialEq)]
pub struct ChartPanel {
    /// Its value axis.
    pub measure: Measure,
    /// One to four curves, the last in front.
    pub curves: Vec<ChartCurve>,
}

/// One curve of a [`ChartPanel`].
#[derive(Clone, Debug, PartialEq)]
pub struct ChartCurve {
    /// What stands at its end; empty for nothing.
    pub label: String,
    /// How it is drawn.
    pub line: Line,
    /// Its points, along rising; pieces apart leave a gap.
    pub pieces: Vec<Piece>,
}

/// How a curve is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Line {
    /// One of a family, by its number from 0; the fifth looks like the first.
    Family(usize),
    /// Grey, behind the others, to compare with.
    Behind,
}

impl Line {
    fn pen(self) -> Pen {
        match self {
            Self::Family(index) => theme::FAMILY[index % MOST_CURVES],
            Self::Behind => theme::GHOST,
        }
    }
}

impl Chart<'_> {
    /// Draws the chart.
    ///
    /// # Errors
    /// If there are too many curves or panels or none, a curve has no point or one
    /// that no axis can show, or the look leaves no room.
    pub fn figure(&self, look: &Look) -> Result<Figure, FigureError> {
        crowded("panels", self.panels.len(), MOST_PANELS)?;
        let mut panels = Vec::new();
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for ChartPanel { measure, curves } in &self.panels {
            crowded("curves in a panel", curves.len(), MOST_CURVES)?;
            let mut panel = measure.panel();
            for ChartCurve { label, line, pieces } in curves {
                let points = pieces.iter().flatten();
                for &(at_s, value) in points {
                    if !(in_range(at_s) && in_range(value)) {
                        return Err(FigureError::Value { curve: measure.name, at_s, value });
                    }
                    (low, high) = (low.min(at_s), high.max(at_s));
                }
                let (label, pieces) = (label.clone(), pieces.clone());
                panel.curves.push(Curve { label, pen: line.pen(), pieces });
            }
            panels.push(panel);
        }
        share_key(&mut panels);
        if low > high {
            return Err(FigureError::Crowded { what: "points", count: 0, most: 1_000_000 });
        }
        // A single point stands in the middle.
        let half = if low == high { 0.5 * low.abs().max(1.0) } else { 0.0 };
        let stack = self.heading.stack(&self.along, (low - half, high + half), panels);
        drawn(&stack, look, self.heading.id, None)
    }
}

/// One measure over two axes: a shade for each cell, and its number where there is
/// room.
#[derive(Clone, Debug, PartialEq)]
pub struct Map<'a> {
    /// What stands above it.
    pub heading: Heading<'a>,
    /// What the shades are.
    pub measure: Measure,
    /// Name and unit of the axis from left to right.
    pub across: String,
    /// Its values, rising.
    pub columns: Vec<f64>,
    /// Name and unit of the axis from below to above.
    pub up: String,
    /// Its values, rising.
    pub rows: Vec<f64>,
    /// Row by row; a cell without a value stays empty.
    pub cells: Vec<Vec<Option<f64>>>,
}

impl Map<'_> {
    /// Draws the map.
    ///
    /// # Errors
    /// If there are too many cells or none, values that no axis can show, or the look
    /// leaves no room.
    pub fn figure(&self, look: &Look) -> Result<Figure, FigureError> {
        crowded("columns", self.columns.len(), MOST_CELLS)?;
        crowded("rows", self.rows.len(), MOST_CELLS)?;
        let values = || self.cells.iter().flatten().flatten().copied();
        if let Some(value) = values().find(|&value| !in_range(value)) {
            return Err(FigureError::Value { curve: self.measure.name, at_s: 0.0, value });
        }
        crowded("cells with a value", values().count(), MOST_CELLS * MOST_CELLS)?;
        let least = values().fold(f64::INFINITY, f64::min);
        let most = values().fold(f64::NEG_INFINITY, f64::max);
        let numbered = self.columns.len().max(self.rows.len()) <= MOST_NUMBERED;
        let Measure { name, unit, .. } = self.measure;
        let name = name.to_lowercase();
        let key = match numbered {
            true => format!("the numbers are {name} ({unit})"),
            false => {
                let (least, most) = (number(least), number(most));
                format!("shades: {name} from {least} {unit} (light) to {most} {unit} (dark)")
            }
        };
        let subtitle = match self.heading.subtitle {
            "" => key,
            subtitle => format!("{subtitle} · {key}"),
        };

        let mut panel = self.measure.panel();
        panel.axis = Some(self.up.clone());
        panel.rows = named(&self.rows);
        let edges = edges(&self.columns);
        for (j, row) in self.cells.iter().enumerate() {
            for (i, value) in row.iter().enumerate() {
                let (Some(value), Some(x)) = (*value, edges.get(i).copied()) else { continue };
                let span = if most > least { most - least } else { 1.0 };
                let y = j as f64;
                panel.blocks.push(Block {
                    x: if numbered { i as f64 - 0.5..i as f64 + 0.5 } else { x.0..x.1 },
                    y: y - 0.5..y + 0.5,
                    shade: 0.1 + 0.9 * (value - least) / span,
                    value,
                    text: if numbered { number(value) } else { String::new() },
                });
            }
        }
        let ends = match (edges.first(), edges.last()) {
            (Some(first), Some(last)) => (first.0, last.1),
            _ => (0.0, 1.0),
        };
        let heading = Heading { subtitle: &subtitle, ..self.heading };
        let mut stack = heading.stack(&self.across, ends, vec![panel]);
        if numbered {
            stack.names = self.columns.iter().map(|&value| number(value)).collect();
            stack.end_s = self.columns.len() as f64 - 0.5;
            stack.start_s = -0.5;
        }
        drawn(&stack, look, self.heading.id, Some(self.csv()))
    }

    /// A line for each cell.
    fn csv(&self) -> String {
        let Measure { key, suffix, .. } = self.measure;
        let (up, across) = (data::column(&self.up), data::column(&self.across));
        let mut text = format!("{up},{across},{}_{suffix}\n", key.replace('-', "_"));
        for (y, row) in self.rows.iter().zip(&self.cells) {
            for (x, value) in self.columns.iter().zip(row) {
                let value = value.map_or_else(String::new, |value| format!("{value:.6}"));
                // Writing to a String cannot fail.
                let _ = writeln!(text, "{y},{x},{value}");
            }
        }
        text
    }
}

impl<'a> Heading<'a> {
    fn stack(&self, along: &'a str, ends: (f64, f64), panels: Vec<Panel>) -> Stack<'a> {
        Stack {
            title: self.title,
            subtitle: self.subtitle,
            ..Stack::over(along, ends.0, ends.1, panels)
        }
    }
}

fn drawn(
    stack: &Stack<'_>,
    look: &Look,
    id: &str,
    data: Option<String>,
) -> Result<Figure, FigureError> {
    let layout = Layout::new(stack, look)?;
    let description = describe::stack(stack, &layout, true);
    let sheet = stack.draw(&layout, look, id)?;
    let data = data.unwrap_or_else(|| data::csv(stack));
    Ok(Figure::new(id, stack.title, description, sheet, look).with_data(data))
}

fn crowded(what: &'static str, count: usize, most: usize) -> Result<(), FigureError> {
    match (1..=most).contains(&count) {
        true => Ok(()),
        false => Err(FigureError::Crowded { what, count, most }),
    }
}

/// Where the cells around some values begin and end: half-way to their neighbours.
fn edges(values: &[f64]) -> Vec<(f64, f64)> {
    let between = |i: usize| 0.5 * (values[i] + values[i + 1]);
    let last = values.len().saturating_sub(1);
    (0..values.len())
        .map(|i| match (i, last) {
            (_, 0) => (values[0] - 0.5, values[0] + 0.5),
            (0, _) => (2.0 * values[0] - between(0), between(0)),
            (i, last) if i == last => (between(i - 1), 2.0 * values[i] - between(i - 1)),
            (i, _) => (between(i - 1), between(i)),
        })
        .collect()
}

/// A name for each row, with gaps where they would be too many.
fn named(rows: &[f64]) -> Vec<String> {
    let every = rows.len().div_ceil(MOST_NAMED);
    let name = |(i, &value): (usize, &f64)| match i % every {
        0 => number(value),
        _ => String::new(),
    };
    rows.iter().enumerate().map(name).collect()
}
