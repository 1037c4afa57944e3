//! Marks at the ends of breaths, shaped by what ended them.

use plotters::coord::ranged1d::Ranged as _;
use plotters::element::{Circle, Polygon};
use plotters::style::Color as _;
use tidewright::breath::EndedBy;

use crate::file::language::ENGLISH;
use crate::paper::grid::{GRID, grid};
use crate::paper::svg::Area;
use crate::paper::theme;
use crate::paper::words::Drawn;
use crate::plot::frame::Frame;
use crate::plot::labels;
use crate::plot::stack::Stack;

/// The ends of breaths on the time axis, and which of them are marked.
pub(crate) struct Marks {
    ends: Vec<(i32, EndedBy)>,
    chosen: Vec<usize>,
    /// Where breaths begin that no mark shows, as those of a patient by itself.
    unmarked: Vec<i32>,
}

/// Times at which the liveliest curve rises through the middle of its range.
fn rises(stack: &Stack) -> Vec<f64> {
    let curves = stack.panels.iter().flat_map(|panel| &panel.curves);
    let rises = curves.map(|curve| {
        let points = || curve.pieces.iter().flatten().copied();
        let low = points().map(|p| p.1).fold(f64::INFINITY, f64::min);
        let high = points().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max);
        let middle = low + (high - low) / 2.0;
        let pairs = points().zip(points().skip(1));
        pairs.filter(|(a, b)| a.1 < middle && b.1 >= middle).map(|(_, b)| b.0).collect()
    });
    rises.max_by_key(Vec::len).unwrap_or_default()
}

/// How close the breaths stand on paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Density {
    /// Each has room for its dashes.
    Open,
    /// Dashes would merge: lines are thin and solid.
    Close,
    /// Breaths would merge: bands with columns of this width, which each hold a
    /// whole breath.
    Band(i32),
}

impl Marks {
    pub fn new(stack: &Stack, x_of: &impl Fn(f64) -> i32) -> Self {
        let ends = stack.breath_ends.iter().map(|end| (x_of(end.at_s), end.by));
        let ends: Vec<(i32, EndedBy)> = ends.collect();
        let chosen = labels::thin_marks(&ends, grid(theme::MARK_PX + 1.0));
        let unmarked = match ends.is_empty() && stack.along == ENGLISH.time {
            true => rises(stack).into_iter().map(x_of).collect(),
            false => Vec::new(),
        };
        Self { ends, chosen, unmarked }
    }

    /// How many marks are drawn of one kind.
    pub fn count(&self, by: EndedBy) -> usize {
        self.chosen.iter().filter(|&&i| self.ends[i].1 == by).count()
    }

    /// How many marks are drawn.
    pub fn len(&self) -> usize {
        self.chosen.len()
    }

    pub fn density(&self) -> Density {
        let at: Vec<i32> = match self.ends.is_empty() {
            true => self.unmarked.clone(),
            false => self.ends.iter().map(|end| end.0).collect(),
        };
        let gaps = at.windows(2).map(|pair| pair[1] - pair[0]);
        let Some(longest) = gaps.clone().max() else {
            return Density::Open;
        };
        let mean = gaps.clone().sum::<i32>() / gaps.count() as i32;
        let (least, ample) = (grid(theme::LEAST_BREATH_PX), grid(theme::AMPLE_BREATH_PX));
        match mean {
            mean if mean < least => Density::Band((longest + 2).clamp(GRID, 2 * least)),
            mean if mean < ample => Density::Close,
            _ => Density::Open,
        }
    }

    /// Draws the chosen marks above the curve of their panel.
    pub fn draw(&self, root: &Area, stack: &Stack, frame: &Frame) -> Drawn {
        let above = grid(theme::MARK_PX / 2.0 + 4.0);
        self.chosen.iter().try_for_each(|&i| {
            let (x, by) = self.ends[i];
            let pressure = stack.breath_ends[i].pressure_cmh2o;
            let y = frame.axis.map(&pressure, (frame.rows.end, frame.rows.start));
            draw(root, by, (x, y - above))
        })
    }
}

/// One mark: a triangle for pressure, a square for the time limit, a disc for
/// standby.
pub(crate) fn draw(root: &Area, by: EndedBy, (x, y): (i32, i32)) -> Drawn {
    let half = grid(theme::MARK_PX) / 2;
    let corners = match by {
        EndedBy::Standby => return root.draw(&Circle::new((x, y), half, theme::INK.filled())),
        EndedBy::Pressure => vec![(x - half, y + half), (x, y - half), (x + half, y + half)],
        EndedBy::Time => {
            // A square of the same size would look larger than the triangle.
            let [left, right] = [x - half * 17 / 20, x + half * 17 / 20];
            let [top, bottom] = [y - half * 17 / 20, y + half * 17 / 20];
            vec![(left, bottom), (left, top), (right, top), (right, bottom)]
        }
    };
    root.draw(&Polygon::new(corners, theme::INK))
}
