//! A page of words, tables and figures, written as SVG like every figure. What is
//! too long for a page goes on on the next.

use std::cell::RefCell;
use std::rc::Rc;

use plotters::element::{PathElement, Rectangle};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color as _, RGBColor};

use crate::paper::error::FigureError;
#[cfg(feature = "pdf")]
use crate::paper::figure::Figure;
use crate::paper::figure::document;
use crate::paper::font::{self, Weight};
use crate::paper::grid::grid;
use crate::paper::role::Role;
use crate::paper::svg::{Area, Sheet};
use crate::paper::theme;
use crate::paper::words::{Drawn, line_style, text_style};

/// How words look.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Type {
    pub size_px: f64,
    pub weight: Weight,
    pub colour: RGBColor,
}

impl Type {
    pub const fn plain(size_px: f64) -> Self {
        Self { size_px, weight: Weight::Regular, colour: theme::INK }
    }

    pub const fn bold(size_px: f64) -> Self {
        Self { weight: Weight::SemiBold, ..Self::plain(size_px) }
    }

    pub const fn soft(size_px: f64) -> Self {
        Self { colour: theme::SOFT_INK, ..Self::plain(size_px) }
    }

    /// From one line to the next, in grid units.
    pub fn leading(self) -> i32 {
        grid(self.size_px * 1.3)
    }

    pub fn wrap(self, text: &str, widest: i32) -> Vec<String> {
        let lines = font::wrap(text, self.size_px, self.weight, widest);
        lines.iter().map(|l| font::shorten(l, self.size_px, self.weight, widest)).collect()
    }
}

/// Lengths of a page, in grid units.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Format {
    pub width: i32,
    pub height: i32,
    pub margin: i32,
}

impl Format {
    /// From millimetres.
    pub fn mm(width: f64, height: f64, margin: f64) -> Self {
        let mm = |length: f64| grid(length * 96.0 / 25.4);
        Self { width: mm(width), height: mm(height), margin: mm(margin) }
    }

    pub fn inner(self) -> i32 {
        self.width - 2 * self.margin
    }
}

/// The page that is being written.
pub(crate) struct Page {
    sheet: Rc<RefCell<Sheet>>,
    root: Area,
    pub format: Format,
    /// Top of what comes next.
    pub y: i32,
}

impl Page {
    pub fn new(format: Format) -> Self {
        let sheet = Rc::new(RefCell::new(Sheet::of_grid(format.width, format.height)));
        let root = Area::from(&sheet);
        Self { sheet, root, format, y: format.margin }
    }

    /// One line of words; `at` is its left, middle or right top.
    pub fn words(&self, text: &str, at: (i32, i32), look: Type, side: HPos) -> Drawn {
        let style = text_style(look.size_px, look.weight, look.colour);
        self.root.draw_text(text, &style.pos(Pos::new(side, VPos::Top)), at)
    }

    /// Lines of words from `at` down.
    pub fn lines(&self, lines: &[String], (x, y): (i32, i32), look: Type) -> Drawn {
        lines.iter().zip(0..).try_for_each(|(line, i)| {
            self.words(line, (x, y + i * look.leading()), look, HPos::Left)
        })
    }

    /// Draws what a reader takes as one thing.
    pub fn within<T>(&self, role: Role, label: &str, draw: impl FnOnce() -> T) -> T {
        self.sheet.borrow_mut().begin(role, label);
        let drawn = draw();
        self.sheet.borrow_mut().close();
        drawn
    }

    /// A line between two points.
    pub fn line(&self, from: (i32, i32), to: (i32, i32), colour: RGBColor, width_px: f64) -> Drawn {
        self.root.draw(&PathElement::new(vec![from, to], line_style(colour, width_px)))
    }

    /// The outline of a box.
    #[cfg(feature = "pdf")]
    pub fn outline(&self, corners: [(i32, i32); 2], width_px: f64) -> Drawn {
        self.root.draw(&Rectangle::new(corners, line_style(theme::INK, width_px)))
    }

    /// A box filled with a colour.
    pub fn ground(&self, corners: [(i32, i32); 2], colour: RGBColor) -> Drawn {
        self.root.draw(&Rectangle::new(corners, colour.filled()))
    }

    /// A finished figure, `percent` of its size.
    #[cfg(feature = "pdf")]
    pub fn put(&self, figure: &Figure, at: (i32, i32), percent: u32) {
        self.sheet.borrow_mut().put(figure, at, percent);
    }

    /// What curves and marks are drawn on.
    pub fn canvas(&self) -> (&Area, &RefCell<Sheet>) {
        (&self.root, &self.sheet)
    }

    /// The page as an SVG document.
    ///
    /// # Errors
    /// If a text holds a letter that the font lacks: a page is for print.
    pub fn finish(self, id: &str, title: &str, says: &str) -> Result<String, FigureError> {
        let Self { sheet, root, format, .. } = self;
        drop(root);
        let sheet = sheet.replace(Sheet::new(0, 0));
        if let Some((letter, text)) = sheet.missing_letter().cloned() {
            return Err(FigureError::NoLetter { letter, text });
        }
        let size = (format.width, format.height);
        Ok(document(id, title, says, sheet.body(), size, "document"))
    }
}
