//! Where one panel stands on the page, and the lengths that all panels share.

use std::ops::Range;

use crate::paper::font;
use crate::paper::grid::grid;
use crate::paper::theme;
use crate::plot::axis::Axis;
use crate::plot::panel::Curve;

/// One panel on the page.
pub(crate) struct Frame {
    pub rows: Range<i32>,
    pub axis: Axis,
    /// For each curve, where it ends and the lines of its label.
    pub labels: Vec<CurveLabel>,
}

pub(crate) struct CurveLabel {
    pub end: i32,
    pub middle: i32,
    pub lines: Vec<String>,
}

/// Height of the time axis with its numbers and its name.
pub(crate) fn time_axis_height() -> i32 {
    2 * tick_length() + font::height(theme::TICK_PX) + grid(2.0) + font::height(theme::BODY_PX)
}

/// Length of a tick mark.
pub(crate) fn tick_length() -> i32 {
    grid(5.0)
}

/// The point of a curve nearest to its label, the last of several.
pub(crate) fn rightmost(curve: &Curve) -> Option<(f64, f64)> {
    let points = curve.pieces.iter().flatten().copied();
    points.reduce(|best, point| if point.0 >= best.0 { point } else { best })
}

/// Room between a panel and its labels.
pub(crate) fn leader_length(key: bool) -> i32 {
    grid(if key { theme::SAMPLE_PX } else { theme::LEADER_PX })
}
