//! Changes during the run: an upright line through all panels, words on top.

use std::cell::RefCell;
use std::ops::Range;

use crate::paper::curve::Stroke;
use crate::paper::font::{self, Weight};
use crate::paper::grid::grid;
use crate::paper::svg::{Area, Sheet};
use crate::paper::theme;
use crate::paper::words::{Drawn, Words, text_style};
use crate::plot::labels;
use crate::plot::stack::Stack;

const MOST_ROWS: usize = 5;

/// One change on paper.
pub(crate) struct Flag {
    x: i32,
    /// Nothing where there was no room for the words.
    pub words: Option<Words>,
}

/// Places the changes of a stack and moves `y` below their words.
pub(crate) fn place(
    y: &mut i32,
    stack: &Stack,
    x_of: &impl Fn(f64) -> i32,
    inner: i32,
) -> Vec<Flag> {
    let size = theme::BODY_PX;
    let line = grid(size * theme::LEADING);
    let shorten = |label: &String| {
        font::shorten(&label.replace("cmH2O", "cmH₂O"), size, Weight::Regular, inner)
    };
    let texts: Vec<String> = stack.events.iter().map(|event| shorten(&event.label)).collect();
    let widths = texts.iter().map(|text| font::width(text, size, Weight::Regular));
    let poles = stack.events.iter().map(|event| x_of(event.at_s));
    let flags: Vec<(i32, i32)> = poles.zip(widths).collect();
    let placed = labels::flags(&flags, grid(8.0), grid(theme::MARGIN_PX) + inner, MOST_ROWS);
    let used = placed.iter().flatten().map(|&(_, row)| row as i32 + 1).max().unwrap_or(0);
    let first = *y;
    *y += used * line;
    let words = |place: Option<(i32, usize)>, text| {
        place.map(|(x, row)| Words { x, y: first + (used - 1 - row as i32) * line, text })
    };
    let flags = placed.into_iter().zip(flags).zip(texts);
    flags.map(|((place, (x, _)), text)| Flag { x, words: words(place, text) }).collect()
}

impl Flag {
    /// Draws the words, and the line from them down through the given rows.
    pub fn draw(&self, root: &Area, sheet: &RefCell<Sheet>, rows: Range<i32>) -> Drawn {
        let top = match &self.words {
            Some(words) => words.y + grid(theme::BODY_PX * theme::LEADING),
            None => rows.start,
        };
        let line = Stroke::Line(vec![(self.x, top), (self.x, rows.end)]);
        sheet.borrow_mut().curve(&[line], &theme::EVENT);
        let style = text_style(theme::BODY_PX, Weight::Regular, theme::INK);
        match &self.words {
            Some(words) => root.draw_text(&words.text, &style, (words.x, words.y)),
            None => Ok(()),
        }
    }
}
