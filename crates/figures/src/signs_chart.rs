//! The wall chart of the faults: what each shows, computed by the engine.

mod row;
mod sign;

use std::fmt::Write as _;

use plotters::style::text_anchor::HPos;
use tidewright::breath::EndedBy;
use tidewright_scenario::report::BANNER;

use self::row::{COLUMNS, Row, ended_by};
pub(crate) use self::sign::Sign;
use crate::draw::DrawFileError;
use crate::file::language::ENGLISH;
use crate::handout::Paper;
use crate::paper::error::FigureError;
use crate::paper::figure::without_font;
use crate::paper::grid::grid;
use crate::paper::page::{Format, Page, Type};
use crate::paper::pattern::Pattern;
use crate::paper::role::Role;
use crate::paper::theme;
use crate::paper::words::Drawn;
use crate::plot::marks;

const TITLE: &str = "What each fault shows";
pub(crate) const CAT: &str = "A simulated cat of 4 kg: 4.8 mL/cmH₂O, 30 cmH₂O·s/L with its tube, 2 L/min of fresh gas, \
    cycling pressure 10 cmH₂O, inspiratory time limit and expiratory time 2.5 s. Each row: a breath 80 s \
    after the fault came at once. Other animals, settings and severities show other numbers.";
/// The same in the few words that a wall has room for.
const OF_A_CAT: &str = "A simulated cat of 4 kg, 2 L/min, cycling at 10 cmH₂O, time limit and expiratory time 2.5 s, \
    80 s after the fault. Others show other numbers.";
const ORDER: &str = "Read in this order: what ended the breath, inspiratory time, expired volume, rate, baseline; \
    the peak often looks normal. Pressure does not fall: take the patient off first. Never flush into a \
    connected small patient. Air may be under tension: stop or give the least, and call.";
const TRACES: &str = "Traces: 5 s of pressure, 0 to 20 cmH₂O; healthy in grey, cycling pressure dashed. Tinted, with \
    arrows: unlike the healthy breath. VTe: volume that comes back. Pressures are true.";

/// Gap between the two columns of rows, and least height of a row, px.
const GUTTER_PX: f64 = 20.0;
/// Least size of text: 14 pt on A3 and nearly 20 pt on A2, to be read from a step away.
const READ_PX: f64 = 56.0 / 3.0;
/// Margin, mm: what printers leave white.
const MARGIN_MM: f64 = 8.0;
const HEAD: Type = Type::bold(READ_PX);
const GROUP: Type = Type::bold(READ_PX);
const FOOT: Type = Type::soft(READ_PX);

/// Paper of a wall chart, landscape.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChartPaper {
    /// 420 by 297 mm, with nothing below 14 pt.
    A3,
    /// 297 by 210 mm: the same, smaller.
    A4,
    /// 11 by 8.5 inches, with the words of the United States.
    Letter,
    /// 594 by 420 mm: the same, larger, with nothing below 19 pt.
    A2,
    /// 841 by 594 mm: the same, twice as large as on A3, with nothing below 28 pt.
    A1,
}

/// Width at which both charts are drawn, mm. US Letter is higher for its width, so that
/// all that stands on A3 has its room there.
const WIDTH_MM: f64 = 420.0;

/// The wall chart of the faults of [`tidewright::fault::CASES`]: for each, a breath
/// of pressure, what ended it, and its measures with arrows against a
/// healthy breath, grouped by what is seen.
///
/// ```
/// use tidewright_figures::{ChartPaper, SignsChart};
/// let chart = SignsChart::new()?;
/// assert!(chart.to_svg().contains("Kinked tube"));
/// assert!(chart.to_pdf(ChartPaper::A4)?.starts_with(b"%PDF"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct SignsChart {
    svg: String,
    letter: String,
    description: String,
}

impl SignsChart {
    /// Runs every case and draws the chart.
    ///
    /// # Errors
    /// [`DrawFileError`] where a run or the drawing fails.
    pub fn new() -> Result<Self, DrawFileError> {
        let healthy = Sign::healthy()?;
        let signs = Sign::all(&healthy)?;
        let description = describe(&signs);
        let on = |height_mm, paper| {
            let page = Page::new(Format::mm(WIDTH_MM, height_mm, MARGIN_MM));
            draw(page, paper, &healthy, &signs, &description)
        };
        let svg = on(297.0, Paper::A4)?;
        let letter = on(WIDTH_MM * 8.5 / 11.0, Paper::Letter)?;
        Ok(Self { svg, letter, description })
    }

    fn on(&self, paper: ChartPaper) -> &str {
        match paper {
            ChartPaper::A3 | ChartPaper::A4 | ChartPaper::A2 | ChartPaper::A1 => &self.svg,
            ChartPaper::Letter => &self.letter,
        }
    }

    /// The chart as one self-contained SVG document of A3, text as text.
    #[must_use]
    pub fn to_svg(&self) -> String {
        self.svg.clone()
    }

    /// The chart as a page of HTML with its own print style.
    #[must_use]
    pub fn to_html(&self, paper: ChartPaper) -> String {
        let (size, width) = match paper {
            ChartPaper::A3 => ("420mm 297mm", "420mm"),
            ChartPaper::A4 => ("297mm 210mm", "297mm"),
            ChartPaper::Letter => ("11in 8.5in", "11in"),
            ChartPaper::A2 => ("594mm 420mm", "594mm"),
            ChartPaper::A1 => ("841mm 594mm", "841mm"),
        };
        let svg = without_font(self.on(paper));
        format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta name=\"viewport\" content=\"width=device-width\">\n<title>{TITLE}</title>\n\
             <style>\n@page {{ size: {size}; margin: 0; }}\n\
             body {{ margin: 0; }} svg {{ display: block; width: {width}; height: auto; \
             max-width: 100%; }}\n</style>\n</head>\n<body>\n{svg}</body>\n</html>\n"
        )
    }

    /// The chart as a page of a tagged PDF.
    ///
    /// # Errors
    /// If the PDF cannot be written.
    #[cfg(feature = "pdf")]
    pub fn to_pdf(&self, paper: ChartPaper) -> Result<Vec<u8>, FigureError> {
        let scale = match paper {
            ChartPaper::A3 => 1.0,
            ChartPaper::A4 => std::f32::consts::FRAC_1_SQRT_2,
            ChartPaper::Letter => (11.0 * 25.4 / WIDTH_MM) as f32,
            ChartPaper::A2 => std::f32::consts::SQRT_2,
            ChartPaper::A1 => 2.0,
        };
        crate::paper::pdf::encode_scaled(&[self.on(paper)], TITLE, &self.description, scale)
    }

    /// The chart as a PNG.
    ///
    /// # Errors
    /// If the resolution is below 24 dpi or would make more than 64 million pixels.
    #[cfg(feature = "png")]
    pub fn to_png(&self, dpi: f64) -> Result<Vec<u8>, FigureError> {
        let texts = [("Title", TITLE), ("Description", &*self.description)];
        crate::paper::png::encode(&self.svg, (1587, 1123), dpi, &texts)
    }

    /// What the chart shows, in words.
    #[must_use]
    pub fn description(&self) -> &str {
        &self.description
    }
}

fn describe(signs: &[Sign]) -> String {
    let mut text = format!("{CAT} {ORDER}");
    for &pattern in Pattern::ALL {
        let names = signs.iter().filter(|sign| sign.pattern == pattern).map(|sign| {
            let severity = sign.severity.map(|s| format!(" {s}")).unwrap_or_default();
            format!("{}{severity}", sign.name.to_lowercase())
        });
        let names = names.collect::<Vec<_>>().join(", ");
        let _ = write!(text, " {}: {names}.", ENGLISH.pattern(pattern));
    }
    text
}

fn draw(
    mut page: Page,
    paper: Paper,
    healthy: &Sign,
    signs: &[Sign],
    description: &str,
) -> Result<String, DrawFileError> {
    let Format { width, height, margin } = page.format;
    let inner = page.format.inner();
    heading(&mut page).map_err(FigureError::from)?;
    let foot = format!("{TRACES} {BANNER} Tidewright {}", env!("CARGO_PKG_VERSION"));
    let foot = FOOT.wrap(&paper.words(&foot), inner);
    let bottom = height - margin - foot.len() as i32 * FOOT.leading();
    let column = (inner - grid(GUTTER_PX)) / 2;
    let top = page.y;
    let blocks = blocks(healthy, signs, column);
    let (row_height, split) = fit(&blocks, bottom - grid(10.0) - top - head_height());
    for (left, blocks) in [(margin, &blocks[..split]), (width - margin - column, &blocks[split..])]
    {
        page.y = top;
        page.within(Role::Table, TITLE, || {
            column_head(&page, left, column)?;
            let mut y = top + head_height();
            blocks.iter().try_for_each(|block| {
                match block {
                    Block::Group(pattern) => group(&page, (left, y), column, *pattern)?,
                    Block::Row(sign, _) => {
                        let row =
                            Row { left, width: column, top: y, height: block.height(row_height) };
                        row.draw(&page, sign, healthy)?;
                    }
                }
                y += block.height(row_height);
                Ok::<(), FigureError>(())
            })
        })?;
    }
    page.within(Role::Paragraph, "", || page.lines(&foot, (margin, bottom), FOOT))
        .map_err(FigureError::from)?;
    Ok(page.finish("fault-signs-chart", TITLE, description)?)
}

fn heading(page: &mut Page) -> Drawn {
    let Format { margin, width, .. } = page.format;
    let title = Type::bold(34.0);
    let at = (margin, page.y);
    page.within(Role::Heading(1), TITLE, || page.words(TITLE, at, title, HPos::Left))?;
    key(page, width - margin, page.y + grid(8.0))?;
    page.y += title.leading() + grid(2.0);
    for (text, look) in [(ORDER, Type::bold(READ_PX)), (OF_A_CAT, Type::soft(READ_PX))] {
        let lines = look.wrap(text, page.format.inner());
        let at = (margin, page.y);
        page.within(Role::Paragraph, "", || page.lines(&lines, at, look))?;
        page.y += lines.len() as i32 * look.leading() + grid(3.0);
    }
    page.y += grid(6.0);
    Ok(())
}

/// What the marks mean, right-aligned at the top.
fn key(page: &Page, right: i32, y: i32) -> Drawn {
    let look = Type::plain(READ_PX);
    let mut x = right;
    for by in [EndedBy::Time, EndedBy::Pressure] {
        let text = ended_by(by);
        let width = crate::paper::font::width(text, look.size_px, look.weight);
        page.within(Role::Paragraph, "", || page.words(text, (x, y), look, HPos::Right))?;
        x -= width + grid(14.0);
        marks::draw(page.canvas().0, by, (x, y + grid(10.0)))?;
        x -= grid(26.0);
    }
    Ok(())
}

/// A heading of a group, or a row.
enum Block<'a> {
    Group(Pattern),
    /// With what its name adds to its height.
    Row(&'a Sign, i32),
}

fn blocks<'a>(healthy: &'a Sign, signs: &'a [Sign], width: i32) -> Vec<Block<'a>> {
    let row = |sign: &'a Sign| Block::Row(sign, row::extra(sign, width));
    let mut blocks = vec![row(healthy)];
    for &pattern in Pattern::ALL {
        let mut rows = signs.iter().filter(|sign| sign.pattern == pattern).peekable();
        if rows.peek().is_some() {
            blocks.push(Block::Group(pattern));
            blocks.extend(rows.map(row));
        }
    }
    blocks
}

impl Block<'_> {
    fn height(&self, row: i32) -> i32 {
        match self {
            Self::Group(_) => GROUP.leading() + grid(8.0),
            Self::Row(_, extra) => row + extra,
        }
    }
}

/// The greatest height of a row at which all blocks stand in two columns of a height,
/// and the first block of the second column: the start of a group, as far up as
/// leaves the columns most alike.
fn fit(blocks: &[Block], room: i32) -> (i32, usize) {
    let starts = (1..blocks.len()).filter(|&i| matches!(blocks[i], Block::Group(_)));
    let row = |split: usize| {
        let columns = [&blocks[..split], &blocks[split..]];
        columns.map(|column| {
            let rows = column.iter().filter(|block| matches!(block, Block::Row(..))).count() as i32;
            let heads: i32 = column.iter().map(|block| block.height(0)).sum();
            (room - heads) / rows.max(1)
        })
    };
    let least = |split: usize| row(split).into_iter().min().unwrap_or(0);
    let split = starts.max_by_key(|&split| least(split)).unwrap_or(blocks.len());
    (least(split), split)
}

fn head_height() -> i32 {
    2 * HEAD.leading() + grid(4.0)
}

/// The band above a group of faults.
fn group(
    page: &Page,
    (left, top): (i32, i32),
    width: i32,
    pattern: Pattern,
) -> Result<(), FigureError> {
    let text = ENGLISH.pattern(pattern);
    let top = top + grid(4.0);
    page.within(Role::Row, "", || {
        page.within(Role::Band(row::CELLS), "", || {
            let corners = [(left, top), (left + width, top + GROUP.leading() + grid(3.0))];
            page.ground(corners, theme::INK)?;
            let look = Type { colour: theme::PAPER, ..GROUP };
            page.words(text, (left + grid(8.0), top + grid(2.0)), look, HPos::Left)
        })
    })?;
    Ok(())
}

fn column_head(page: &Page, left: i32, width: i32) -> Result<(), FigureError> {
    let edges = row::edges(left, width);
    page.within(Role::Row, "", || {
        COLUMNS.iter().enumerate().try_for_each(|(i, names)| {
            let middle = (edges[i] + edges[i + 1]) / 2;
            let draw = || {
                page.words(names[0], (middle, page.y), HEAD, HPos::Center)?;
                let below = (middle, page.y + HEAD.leading());
                page.words(names[1], below, Type::plain(READ_PX), HPos::Center)
            };
            match row::TRACES.contains(&i) {
                true => draw(),
                false => page.within(Role::ColumnHeader, "", draw),
            }
        })
    })?;
    Ok(())
}
