//! Texts on the page, and the styles of text and line that all parts share.

use plotters::style::{
    Color as _, FontDesc, FontFamily, FontStyle, RGBColor, ShapeStyle, TextStyle,
};

use crate::paper::font::{self, Weight};
use crate::paper::grid::grid;
use crate::paper::svg::{Area, DrawError};
use crate::paper::theme;

/// What stands at the foot of every figure.
pub const CAUTION: &str = "For teaching only. Not a medical device. \
    Simulated animals and equipment: real ones differ.";

/// What drawing gives back: nothing, or an error.
pub(crate) type Drawn = Result<(), DrawError>;

/// A line of text and its left top corner, in grid units.
pub(crate) struct Words {
    pub x: i32,
    pub y: i32,
    pub text: String,
}

/// Lines of text in one style.
pub(crate) struct Paragraph {
    lines: Vec<Words>,
    style: TextStyle<'static>,
}

impl Paragraph {
    /// Breaks a text into at most `most` lines and moves `y` below it.
    pub fn new(
        y: &mut i32,
        text: &str,
        (size_px, weight, colour): (f64, Weight, RGBColor),
        widest: i32,
        most: usize,
    ) -> Self {
        let mut lines = font::wrap(text, size_px, weight, widest);
        if lines.len() > most {
            let rest = lines.split_off(most - 1).join(" ");
            lines.push(rest);
        }
        let place = |line: &String| {
            let text = font::shorten(line, size_px, weight, widest);
            let words = Words { x: grid(theme::MARGIN_PX), y: *y, text };
            *y += grid(size_px * theme::LEADING);
            words
        };
        Self {
            lines: lines.iter().map(place).collect(),
            style: text_style(size_px, weight, colour),
        }
    }

    /// Moves the whole paragraph down.
    pub fn lower(&mut self, by: i32) {
        self.lines.iter_mut().for_each(|line| line.y += by);
    }

    pub fn draw(&self, root: &Area) -> Drawn {
        let draw = |line: &Words| root.draw_text(&line.text, &self.style, (line.x, line.y));
        self.lines.iter().try_for_each(draw)
    }
}

/// A style of text.
pub(crate) fn text_style(size_px: f64, weight: Weight, colour: RGBColor) -> TextStyle<'static> {
    let style = match weight {
        Weight::Regular => FontStyle::Normal,
        Weight::SemiBold => FontStyle::Bold,
    };
    FontDesc::new(FontFamily::Name(font::FAMILY), f64::from(grid(size_px)), style).color(&colour)
}

/// A style of line.
pub(crate) fn line_style(colour: RGBColor, width_px: f64) -> ShapeStyle {
    colour.stroke_width(grid(width_px) as u32)
}
