//! One panel: a value axis over the time axis, and the curves in it.

use std::ops::Range;

use crate::file::language::Quantity;
use crate::paper::curve::Piece;
use crate::paper::font::{self, Weight};
use crate::paper::theme::{self, Pen};

/// A value axis and its curves, the last in front.
pub(crate) struct Panel {
    pub id: &'static str,
    pub name: &'static str,
    /// The name where there is little room.
    pub short: &'static str,
    pub unit: &'static str,
    /// The least that the axis spans, so that noise does not fill a panel.
    pub least_span: f64,
    /// Values at which marks stand; they need air above the curve.
    pub marked: Vec<f64>,
    pub curves: Vec<Curve>,
    /// Bars and cells, behind the curves.
    pub blocks: Vec<Block>,
    /// Names of the rows, where the value axis has names.
    pub rows: Vec<String>,
    /// Name of the value axis where it is not that of the quantity.
    pub axis: Option<String>,
    /// Unit as the end of a column's name.
    pub suffix: &'static str,
    /// Whether labels stand beside a sample of their line, as for curves that end
    /// inside the panel, and not at the end of a leader.
    pub key: bool,
    /// Whether its curves go without labels, as a panel above has the same curves.
    pub unlabelled: bool,
    /// Part of its span that stays free above the curves, beyond the usual.
    pub air: f64,
}

impl Panel {
    /// An empty panel of a quantity.
    pub fn of(quantity: Quantity, least_span: f64) -> Self {
        Self {
            id: quantity.key,
            name: quantity.axis,
            short: quantity.short,
            unit: quantity.unit,
            least_span,
            marked: Vec::new(),
            curves: Vec::new(),
            blocks: Vec::new(),
            rows: Vec::new(),
            axis: None,
            suffix: quantity.suffix,
            key: false,
            unlabelled: false,
            air: 0.0,
        }
    }
}

/// Most panels with labels of the same curves at their ends; more are too low for
/// them.
const MOST_LABELLED: usize = 2;

/// Gives many panels of the same several curves one key, in the first.
pub(crate) fn share_key(panels: &mut [Panel]) {
    let labels = |panel: &Panel| panel.curves.iter().map(|c| c.label.clone()).collect::<Vec<_>>();
    let Some(first) = panels.first().map(labels) else { return };
    let alike = panels.iter().all(|panel| labels(panel) == first);
    if panels.len() <= MOST_LABELLED || first.len() < 2 || !alike {
        return;
    }
    for (i, panel) in panels.iter_mut().enumerate() {
        (panel.key, panel.unlabelled) = (i == 0, i > 0);
    }
}

/// A bar from zero, or a cell of a map.
#[derive(Debug, Clone)]
pub(crate) struct Block {
    pub x: Range<f64>,
    pub y: Range<f64>,
    /// 0 is paper, 1 the darkest shade that ink can be read on.
    pub shade: f64,
    pub value: f64,
    pub text: String,
}

/// A curve with the label that stands at its end.
pub(crate) struct Curve {
    pub label: String,
    pub pen: Pen,
    pub pieces: Vec<Piece>,
}

impl Panel {
    /// The pen that a curve is drawn with here.
    pub fn pen(&self, curve: &Curve) -> Pen {
        let beside =
            |one: &&Curve| ![theme::REFERENCE, theme::GHOST, theme::AREA].contains(&one.pen);
        match self.curves.iter().filter(beside).count() {
            1 if beside(&curve) => curve.pen.alone(),
            _ => curve.pen,
        }
    }

    /// Name and unit of the axis, if they fit along a height.
    pub fn name_along(&self, height: i32) -> Option<String> {
        if let Some(axis) = &self.axis {
            return Some(axis.clone());
        }
        let names = [self.name, self.short].map(|name| format!("{name} ({})", self.unit));
        let fits = |name: &String| font::width(name, theme::BODY_PX, Weight::SemiBold) <= height;
        names.into_iter().find(fits)
    }
}
