//! Phases behind the panels: inspiration shaded, names above where they fit.

use std::ops::Range;

use plotters::element::{PathElement, Rectangle};
use plotters::style::Color as _;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use tidewright::phase::PhaseKind;

use crate::file::language::ENGLISH;
use crate::paper::font::{self, Weight};
use crate::paper::grid::grid;
use crate::paper::svg::Area;
use crate::paper::theme;
use crate::paper::words::{Drawn, line_style, text_style};
use crate::plot::event::Phase;
use crate::plot::stack::Stack;

/// The phases on paper.
pub(crate) struct Shading {
    phases: Vec<(PhaseKind, Range<i32>)>,
    /// Whether phases are long enough on paper to be shaded.
    pub shown: bool,
    /// Middles of the names.
    names: Vec<(i32, &'static str)>,
}

impl Shading {
    pub fn new(stack: &Stack, x_of: &impl Fn(f64) -> i32) -> Self {
        let within = |t: f64| x_of(t.clamp(stack.start_s, stack.end_s));
        let place = |p: &Phase| (p.kind, within(p.start_s)..within(p.end_s));
        let phases: Vec<(PhaseKind, Range<i32>)> = stack.phases.iter().map(place).collect();
        let total: i32 = phases.iter().map(|(_, span)| span.end - span.start).sum();
        let shown = total > 0 && total >= grid(2.0) * phases.len() as i32;
        Self { names: names(&phases), phases, shown }
    }

    /// Whether the names of the phases stand above the panels; else the key has to
    /// explain the shading.
    pub fn is_named(&self) -> bool {
        !self.names.is_empty()
    }

    /// Draws shading and names between two heights.
    pub fn draw(&self, root: &Area, rows: Range<i32>) -> Drawn {
        let inspirations = self.phases.iter().filter(|(kind, _)| kind.is_inspiration());
        for (_, span) in inspirations.filter(|_| self.shown) {
            let corners = [(span.start, rows.start), (span.end, rows.end)];
            root.draw(&Rectangle::new(corners, theme::SHADE.filled()))?;
            for x in [span.start, span.end] {
                let edge = vec![(x, rows.start), (x, rows.end)];
                root.draw(&PathElement::new(edge, line_style(theme::SHADE_EDGE, 0.6)))?;
            }
        }
        let style = text_style(theme::TICK_PX, Weight::Regular, theme::INK);
        let style = style.pos(Pos::new(HPos::Center, VPos::Top));
        let top = rows.start + grid(2.0);
        self.names.iter().try_for_each(|&(x, name)| root.draw_text(name, &style, (x, top)))
    }
}

/// The names where they fit; none, if a kind of phase has no room for its name
/// anywhere.
fn names(phases: &[(PhaseKind, Range<i32>)]) -> Vec<(i32, &'static str)> {
    let name = |kind| match kind {
        PhaseKind::Inspiration | PhaseKind::ValveDelay => ENGLISH.inspiration,
        PhaseKind::Expiration => ENGLISH.expiration,
        PhaseKind::Standby => ENGLISH.standby,
    };
    let fits = |kind: PhaseKind, span: &Range<i32>| {
        let width = font::width(name(kind), theme::TICK_PX, Weight::Regular);
        span.end - span.start >= width + grid(6.0)
    };
    let named: Vec<&(PhaseKind, Range<i32>)> =
        phases.iter().filter(|(kind, span)| fits(*kind, span)).collect();
    match phases.iter().all(|(kind, _)| named.iter().any(|(k, _)| k == kind)) {
        true => named.iter().map(|(k, span)| ((span.start + span.end) / 2, name(*k))).collect(),
        false => Vec::new(),
    }
}
