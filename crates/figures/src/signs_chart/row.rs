//! A row of the chart: name, a trace, and measures with arrows.

use plotters::style::text_anchor::HPos;
use tidewright::breath::{Breath, EndedBy};

use super::READ_PX;
use super::sign::{SHOWN_S, Sign};
use crate::file::language::ENGLISH;
use crate::paper::curve::{Piece, strokes};
use crate::paper::error::FigureError;
use crate::paper::font;
use crate::paper::grid::grid;
use crate::paper::page::{Page, Type};
use crate::paper::role::Role;
use crate::paper::theme::{self, Pen};
use crate::paper::words::Drawn;
use crate::plot::marks;

/// Names and units of the columns.
pub(super) const COLUMNS: [[&str; 2]; 8] = [
    ["Fault", "and severity"],
    ["Pressure", ""],
    ["Ended", "by"],
    ["TI", "s"],
    ["VTe", "mL"],
    ["Rate", "per min"],
    ["Baseline", "cmH₂O"],
    ["Peak", "cmH₂O"],
];
/// Columns of traces, which only the eye reads.
pub(super) const TRACES: [usize; 1] = [1];
/// Columns that are read.
pub(super) const CELLS: u32 = 7;
/// Widths of the columns as parts of the row's.
const PARTS: [i32; 8] = [232, 98, 62, 76, 62, 70, 86, 76];
/// Top of the trace.
const PRESSURE_CMH2O: f64 = 20.0;
const NAME: Type = Type::bold(READ_PX);
const SEVERITY: Type = Type::soft(READ_PX);
const VALUE: Type = Type::plain(READ_PX);
const CHANGED: Type = Type::bold(READ_PX);
/// From line to line of a name, as a multiple of its size.
const CLOSE: f64 = 1.22;
/// What the second line of a name adds to its row, px.
const EXTRA_PX: f64 = 10.0;

/// Left edges of the columns, and the right edge of the last.
pub(super) fn edges(left: i32, width: i32) -> Vec<i32> {
    let whole: i32 = PARTS.iter().sum();
    let sums = PARTS.iter().scan(0, |sum, part| {
        *sum += part;
        Some(left + *sum * width / whole)
    });
    std::iter::once(left).chain(sums).collect()
}

/// How a breath was ended, in words.
pub(super) fn ended_by(by: EndedBy) -> &'static str {
    match by {
        EndedBy::Pressure => ENGLISH.ended_by_pressure,
        EndedBy::Time => ENGLISH.ended_by_time,
        EndedBy::Standby => ENGLISH.ended_by_standby,
    }
}

/// Where a row stands.
pub(super) struct Row {
    pub left: i32,
    pub width: i32,
    pub top: i32,
    pub height: i32,
}

impl Row {
    pub fn draw(&self, page: &Page, sign: &Sign, healthy: &Sign) -> Result<(), FigureError> {
        let edges = edges(self.left, self.width);
        let bottom = self.top + self.height;
        let pressure = Trace { top: PRESSURE_CMH2O, pen: theme::PRESSURE, level: Some(10.0) };
        let air = grid(3.0);
        let corners = [(edges[1] + air, self.top + air), (edges[2] - air, bottom - air)];
        pressure.draw(page, corners, &sign.pressure_cmh2o, &healthy.pressure_cmh2o)?;
        page.within(Role::Row, "", || {
            page.within(Role::RowHeader, "", || self.name(page, sign))?;
            page.within(Role::Cell, ended_by(sign.breath.ended_by), || {
                let middle = ((edges[2] + edges[3]) / 2, (self.top + bottom) / 2);
                marks::draw(page.canvas().0, sign.breath.ended_by, middle)
            })?;
            measures(&sign.breath, &healthy.breath).iter().enumerate().try_for_each(
                |(i, (text, arrow))| {
                    let corners = [(edges[i + 3], self.top), (edges[i + 4], bottom)];
                    page.within(Role::Cell, "", || value(page, corners, text, arrow))
                },
            )
        })?;
        let right = self.left + self.width;
        page.line((self.left, bottom), (right, bottom), theme::SHADE_EDGE, 0.8)?;
        Ok(())
    }

    /// The name, and the severity behind its last word.
    fn name(&self, page: &Page, sign: &Sign) -> Drawn {
        let (lines, severity) = named(sign, self.width);
        let (leading, left) = (grid(NAME.size_px * CLOSE), self.left + grid(2.0));
        let count = lines.len() as i32;
        let mut y = self.top + (self.height - (count - 1) * leading - NAME.leading()) / 2;
        for line in &lines {
            page.words(line, (left, y), NAME, HPos::Left)?;
            y += leading;
        }
        let end = left + lines.last().map_or(0, |line| length(line));
        page.words(&severity, (end + grid(5.0), y - leading), SEVERITY, HPos::Left)
    }
}

fn length(line: &str) -> i32 {
    font::width(line, NAME.size_px, NAME.weight)
}

/// The lines of a name in a row so wide, and the severity, which has room behind the last.
fn named(sign: &Sign, width: i32) -> (Vec<String>, String) {
    let widest = edges(0, width)[1] - grid(6.0);
    let severity = sign.severity.map(|severity| severity.to_string()).unwrap_or_default();
    let behind = grid(6.0) + font::width(&severity, SEVERITY.size_px, SEVERITY.weight);
    let lines = NAME.wrap(&sign.name, widest);
    match lines.last().is_some_and(|line| length(line) + behind > widest) {
        true => (NAME.wrap(&sign.name, widest - behind), severity),
        false => (lines, severity),
    }
}

/// How much higher than the others a row so wide must be for its name.
pub(super) fn extra(sign: &Sign, width: i32) -> i32 {
    if named(sign, width).0.len() > 1 { grid(EXTRA_PX) } else { 0 }
}

/// A number with its arrow, on a ground of its own where it differs.
fn value(page: &Page, [from, to]: [(i32, i32); 2], text: &str, arrow: &str) -> Drawn {
    let air = grid(2.0);
    let look = if arrow.is_empty() { VALUE } else { CHANGED };
    if !arrow.is_empty() {
        page.ground([(from.0 + air, from.1 + air), (to.0 - air, to.1 - air)], theme::TINTED)?;
    }
    let y = (from.1 + to.1 - look.leading()) / 2;
    let text = format!("{text}{arrow}");
    page.words(&text, ((from.0 + to.0) / 2, y), look, HPos::Center)
}

/// Each measure as it is shown, with an arrow where that differs from a healthy
/// breath.
fn measures(breath: &Breath, healthy: &Breath) -> [(String, &'static str); 5] {
    let measure = |places: usize, of: fn(&Breath) -> f64| {
        // Adding 0 turns -0 into 0.
        let shown = |breath: &Breath| {
            let rounded: f64 = format!("{:.places$}", of(breath)).parse().unwrap_or(0.0);
            format!("{:.places$}", rounded + 0.0)
        };
        let text = shown(breath);
        let arrow = match text == shown(healthy) {
            true => "",
            false if of(breath) > of(healthy) => " ↑",
            false => " ↓",
        };
        (text.replace('-', "−"), arrow)
    };
    [
        measure(2, |b| b.inspiratory_time.as_s()),
        measure(0, |b| b.expired_at_airway.as_ml()),
        measure(0, Breath::rate_per_min),
        measure(1, |b| b.baseline_pressure.as_cmh2o()),
        measure(1, |b| b.peak_pressure.as_cmh2o()),
    ]
}

/// A trace from zero to a top.
struct Trace {
    top: f64,
    pen: Pen,
    level: Option<f64>,
}

impl Trace {
    fn draw(
        &self,
        page: &Page,
        [(left, top), (right, bottom)]: [(i32, i32); 2],
        own: &[Piece],
        usual: &[Piece],
    ) -> Drawn {
        let place = |(t, y): (f64, f64)| {
            let across = f64::from(right - left) * t / SHOWN_S;
            let up = f64::from(bottom - top) * (y / self.top).clamp(0.0, 1.0);
            (left + across.round() as i32, bottom - up.round() as i32)
        };
        page.line((left, bottom), (right, bottom), theme::ZERO_LINE, 0.8)?;
        page.line((left, top), (left, bottom), theme::ZERO_LINE, 0.8)?;
        let (_, sheet) = page.canvas();
        let on_paper = |pieces: &[Piece]| {
            let pieces = pieces.iter().map(|piece| piece.iter().map(|&p| place(p)).collect());
            strokes(&pieces.collect::<Vec<Vec<_>>>())
        };
        if let Some(level) = self.level {
            let ends = [(0.0, level), (SHOWN_S, level)].to_vec();
            sheet.borrow_mut().curve(&on_paper(&[ends]), &theme::REFERENCE);
        }
        sheet.borrow_mut().curve(&on_paper(usual), &Pen { width_px: 1.2, ..theme::GHOST });
        sheet
            .borrow_mut()
            .curve(&on_paper(own), &Pen { width_px: 1.9, dashes_px: &[], ..self.pen });
        Ok(())
    }
}
