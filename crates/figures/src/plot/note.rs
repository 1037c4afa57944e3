//! Measures drawn where they are taken: a bracket and its value.

use std::ops::Range;

use plotters::coord::ranged1d::Ranged as _;
use plotters::element::{PathElement, Rectangle};
use plotters::style::Color as _;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use crate::paper::font::{self, Weight};
use crate::paper::grid::grid;
use crate::paper::svg::Area;
use crate::paper::theme;
use crate::paper::words::{Drawn, line_style, text_style};
use crate::plot::axis::Axis;
use crate::plot::frame::Frame;

/// A bracket and its value.
pub(crate) struct Note {
    pub span: Span,
    pub text: String,
}

/// What a bracket spans, in the units of its panel.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Span {
    /// A time, above the curves.
    Across { from: f64, to: f64 },
    /// A difference of values. The words stand where curves leave room: before the
    /// bracket where there is space, or after it.
    Up { at: f64, from: f64, to: f64, before: bool },
    /// A point of a curve; the words stand above it, or below where there is no room.
    At { at: f64, value: f64 },
}

impl Note {
    pub fn draw(&self, root: &Area, along: &Axis, columns: &Range<i32>, frame: &Frame) -> Drawn {
        let x_of = |x: f64| along.map(&x, (columns.start, columns.end));
        let y_of = |y: f64| frame.axis.map(&y, (frame.rows.end, frame.rows.start));
        let (end, air) = (grid(4.0), grid(9.0));
        let width = font::width(&self.text, theme::TICK_PX, Weight::SemiBold);
        let line = line_style(theme::INK, 1.4);
        let style = text_style(theme::TICK_PX, Weight::SemiBold, theme::INK);
        match self.span {
            Span::Across { from, to } => {
                let (left, right) = (x_of(from), x_of(to));
                let y = frame.rows.start + font::height(theme::TICK_PX) + grid(5.0);
                root.draw(&PathElement::new(vec![(left, y), (right, y)], line))?;
                for x in [left, right] {
                    root.draw(&PathElement::new(vec![(x, y - end), (x, y + end)], line))?;
                }
                let middle = (left + right) / 2;
                let middle = middle.clamp(columns.start + width / 2, columns.end - width / 2);
                let style = style.pos(Pos::new(HPos::Center, VPos::Bottom));
                root.draw_text(&self.text, &style, (middle, y - end))
            }
            Span::At { at, value } => {
                let (x, y) = (x_of(at), y_of(value));
                let ring = grid(3.0);
                let corners = [(x - ring, y - ring), (x + ring, y + ring)];
                root.draw(&Rectangle::new(corners, theme::INK.filled()))?;
                let height = font::height(theme::TICK_PX);
                let above = y - air - height > frame.rows.start;
                let top = if above { y - air - height } else { y + air };
                let left = (x - width / 2).clamp(columns.start, columns.end - width);
                let style = style.pos(Pos::new(HPos::Left, VPos::Top));
                root.draw_text(&self.text, &style, (left, top))
            }
            Span::Up { at, from, to, before } => {
                let (x, bottom, top) = (x_of(at), y_of(from.min(to)), y_of(from.max(to)));
                root.draw(&PathElement::new(vec![(x, bottom), (x, top)], line))?;
                for y in [bottom, top] {
                    root.draw(&PathElement::new(vec![(x - end, y), (x + end, y)], line))?;
                }
                let before = before && x - air - width > columns.start;
                let left = if before { x - air - width } else { x + air };
                let left = left.min(columns.end - width);
                let half = font::height(theme::TICK_PX) / 2;
                let y = ((top + bottom) / 2).clamp(frame.rows.start + half, frame.rows.end - half);
                let ground = [(left - grid(2.0), y - half), (left + width + grid(2.0), y + half)];
                root.draw(&Rectangle::new(ground, theme::PAPER.mix(0.85).filled()))?;
                let style = style.pos(Pos::new(HPos::Left, VPos::Center));
                root.draw_text(&self.text, &style, (left, y))
            }
        }
    }
}
