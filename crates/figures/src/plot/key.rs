//! The key: what shading, bands and marks mean, above the panels.

use plotters::element::{PathElement, Rectangle};
use plotters::style::Color as _;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use tidewright::breath::EndedBy;
use tidewright::phase::PhaseKind;

use crate::file::language::ENGLISH;
use crate::paper::font::{self, Weight};
use crate::paper::grid::grid;
use crate::paper::svg::Area;
use crate::paper::theme;
use crate::paper::words::{Drawn, line_style, text_style};
use crate::plot::marks::{self, Marks};
use crate::plot::stack::Stack;

/// One entry of the key.
pub(crate) struct Entry {
    x: i32,
    y: i32,
    symbol: Symbol,
    text: String,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Symbol {
    Inspiration,
    Expiration,
    Band,
    Ended(EndedBy),
}

/// Places the key and moves `y` below it. The marks begin a row of their own
/// where one row cannot hold everything.
pub(crate) fn place(
    y: &mut i32,
    stack: &Stack,
    marks: &Marks,
    explain_phases: bool,
    explain_bands: bool,
    inner: i32,
) -> Vec<Entry> {
    let margin = grid(theme::MARGIN_PX);
    let (air, line) = (grid(18.0), grid(theme::BODY_PX * theme::LEADING));
    let width = |(symbol, text): &(Symbol, String)| {
        symbol_width(*symbol) + font::width(text, theme::TICK_PX, Weight::Regular)
    };
    let mut entries = grounds(stack, explain_phases, explain_bands);
    let grounds = entries.len();
    entries.extend(endings(stack, marks));
    let whole: i32 = entries.iter().map(|entry| width(entry) + air).sum();

    let mut x = margin;
    let mut placed = Vec::new();
    for (i, entry) in entries.into_iter().enumerate() {
        let width = width(&entry);
        let marks_begin = i == grounds && whole - air > inner;
        if x > margin && (marks_begin || x + width > margin + inner) {
            x = margin;
            *y += line;
        }
        let (symbol, text) = entry;
        placed.push(Entry { x, y: *y, symbol, text });
        x += width + air;
    }
    if !placed.is_empty() {
        *y += line + grid(2.0);
    }
    placed
}

fn grounds(stack: &Stack, phases: bool, bands: bool) -> Vec<(Symbol, String)> {
    let has = |kind| phases && stack.phases.iter().any(|phase| phase.kind == kind);
    let mut entries = Vec::new();
    if has(PhaseKind::Inspiration) {
        entries.push((Symbol::Inspiration, ENGLISH.inspiration.to_owned()));
    }
    if has(PhaseKind::Expiration) || has(PhaseKind::Standby) {
        let text = match has(PhaseKind::Standby) {
            true => ENGLISH.expiration_or_standby,
            false => ENGLISH.expiration,
        };
        entries.push((Symbol::Expiration, text.to_owned()));
    }
    if bands {
        entries.push((Symbol::Band, ENGLISH.band.to_owned()));
    }
    entries
}

fn endings(stack: &Stack, marks: &Marks) -> Vec<(Symbol, String)> {
    let mut subject = format!("{} ", ENGLISH.breath_ended);
    let mut entries = Vec::new();
    for (by, text) in [
        (EndedBy::Pressure, ENGLISH.by_pressure),
        (EndedBy::Time, ENGLISH.by_time),
        (EndedBy::Standby, ENGLISH.by_standby),
    ] {
        let all = stack.breath_ends.iter().filter(|end| end.by == by).count();
        let count = match marks.count(by) {
            marked if marked == all => format!("{all}"),
            marked => format!("{all}, {marked} {}", ENGLISH.marked),
        };
        if all > 0 {
            entries.push((Symbol::Ended(by), format!("{subject}{text} ({count})")));
            subject.clear();
        }
    }
    entries
}

/// Width of a symbol with the air after it.
fn symbol_width(symbol: Symbol) -> i32 {
    match symbol {
        Symbol::Ended(_) => grid(theme::MARK_PX + 5.0),
        Symbol::Inspiration | Symbol::Expiration | Symbol::Band => grid(theme::SWATCH_PX + 5.0),
    }
}

impl Entry {
    pub fn draw(&self, root: &Area) -> Drawn {
        let middle = self.y + font::height(theme::TICK_PX) / 2;
        let (left, right) = (self.x, self.x + grid(theme::SWATCH_PX));
        let (top, bottom) = (middle - grid(7.0), middle + grid(7.0));
        let corners = [(left, top), (right, bottom)];
        let outline = line_style(theme::ZERO_LINE, 0.8);
        match self.symbol {
            Symbol::Ended(by) => marks::draw(root, by, (left + grid(theme::MARK_PX) / 2, middle))?,
            Symbol::Expiration => root.draw(&Rectangle::new(corners, outline))?,
            Symbol::Inspiration => {
                root.draw(&Rectangle::new(corners, theme::SHADE.filled()))?;
                root.draw(&Rectangle::new(corners, outline))?;
            }
            Symbol::Band => {
                let tint = theme::ZERO_LINE.mix(theme::TINT).filled();
                root.draw(&Rectangle::new(corners, tint))?;
                for y in [top, bottom] {
                    root.draw(&PathElement::new(vec![(left, y), (right, y)], outline))?;
                }
            }
        }
        let style = text_style(theme::TICK_PX, Weight::Regular, theme::INK);
        let style = style.pos(Pos::new(HPos::Left, VPos::Center));
        root.draw_text(&self.text, &style, (left + symbol_width(self.symbol), middle))
    }
}
