//! A row of the chart: name, two traces, and measures with arrows.

use plotters::style::text_anchor::HPos;
use tidewright::breath::{Breath, EndedBy};

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
pub(super) const COLUMNS: [[&str; 2]; 9] = [
    ["Fault", "and severity"],
    ["Pressure", "0 to 20 cmH₂O"],
    ["Lung volume", "0 to 90 mL"],
    ["Ended", "by"],
    ["TI", "s"],
    ["VTe", "mL"],
    ["Rate", "per min"],
    ["Baseline", "cmH₂O"],
    ["Peak", "cmH₂O"],
];
/// Columns of traces, which only the eye reads.
pub(super) const TRACES: [usize; 2] = [1, 2];
/// Columns that are read.
pub(super) const CELLS: u32 = 7;
/// Widths of the columns as parts of the row's.
const PARTS: [i32; 9] = [190, 117, 117, 44, 60, 58, 60, 64, 62];
/// Tops of the traces.
const PRESSURE_CMH2O: f64 = 20.0;
const VOLUME_ML: f64 = 90.0;
const NAME: Type = Type::bold(15.0);
const SMALL: Type = Type::soft(12.5);
const VALUE: Type = Type::plain(15.0);
const CHANGED: Type = Type::bold(15.0);

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
        let volume = Trace { top: VOLUME_ML, pen: theme::VOLUME, level: None };
        let air = grid(4.0);
        for (trace, own, usual, i) in [
            (pressure, &sign.pressure_cmh2o, &healthy.pressure_cmh2o, 1),
            (volume, &sign.volume_ml, &healthy.volume_ml, 2),
        ] {
            let corners = [(edges[i] + air, self.top + air), (edges[i + 1] - air, bottom - air)];
            trace.draw(page, corners, own, usual)?;
        }
        page.within(Role::Row, "", || {
            page.within(Role::RowHeader, "", || self.name(page, sign))?;
            page.within(Role::Cell, ended_by(sign.breath.ended_by), || {
                let middle = ((edges[3] + edges[4]) / 2, (self.top + bottom) / 2);
                marks::draw(page.canvas().0, sign.breath.ended_by, middle)
            })?;
            measures(&sign.breath, &healthy.breath).iter().enumerate().try_for_each(
                |(i, (text, arrow))| {
                    let corners = [(edges[i + 4], self.top), (edges[i + 5], bottom)];
                    page.within(Role::Cell, "", || value(page, corners, text, arrow))
                },
            )
        })?;
        let right = self.left + self.width;
        page.line((self.left, bottom), (right, bottom), theme::SHADE_EDGE, 0.8)?;
        Ok(())
    }

    fn name(&self, page: &Page, sign: &Sign) -> Drawn {
        let width = edges(self.left, self.width)[1] - self.left - grid(8.0);
        let mut lines: Vec<(String, Type)> =
            NAME.wrap(&sign.name, width).into_iter().map(|line| (line, NAME)).collect();
        if let Some(severity) = sign.severity {
            let text = format!("{} {severity}", ENGLISH.severity);
            // Beside a short last line, or below a long one.
            let last =
                lines.last().map_or(0, |(l, look)| font::width(l, look.size_px, look.weight));
            let beside =
                last + font::width(&text, SMALL.size_px, SMALL.weight) + grid(7.0) <= width;
            if !beside || lines.len() == 1 {
                lines.push((text, SMALL));
            } else {
                let y = self.middle(&lines) + (lines.len() as i32 - 1) * NAME.leading() + grid(2.0);
                page.words(&text, (self.left + last + grid(9.0), y), SMALL, HPos::Left)?;
            }
        }
        let mut y = self.middle(&lines);
        lines.iter().try_for_each(|(line, look)| {
            page.words(line, (self.left + grid(2.0), y), *look, HPos::Left)?;
            y += look.leading();
            Ok(())
        })
    }

    /// Top of lines that stand in the middle of the row.
    fn middle(&self, lines: &[(String, Type)]) -> i32 {
        let all: i32 = lines.iter().map(|(_, look)| look.leading()).sum();
        self.top + (self.height - all) / 2
    }
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
