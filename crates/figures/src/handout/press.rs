//! Blocks of a document set one below the other, from page to page.

use plotters::style::text_anchor::HPos;

use crate::paper::error::FigureError;
use crate::paper::figure::Figure;
use crate::paper::grid::grid;
use crate::paper::page::{Format, Page, Type};
use crate::paper::role::Role;
use crate::paper::theme;
use crate::paper::words::Drawn;

const BODY: Type = Type::plain(14.0);
const BOLD: Type = Type::bold(14.0);
const CELL: Type = Type::plain(13.0);
const FOOT: Type = Type::soft(10.5);

/// A document that is being set.
pub(super) struct Press {
    page: Page,
    /// Heading of the sheet, which names its pages.
    title: String,
    foot: Vec<String>,
    done: Vec<String>,
}

impl Press {
    pub fn new(format: Format) -> Self {
        Self { page: Page::new(format), title: String::new(), foot: Vec::new(), done: Vec::new() }
    }

    /// Begins a sheet on a new page, with what stands at the foot of its pages.
    pub fn sheet(&mut self, title: &str, foot: &str) -> Result<(), FigureError> {
        if !self.foot.is_empty() {
            self.turn()?;
        }
        self.title = title.to_owned();
        self.foot = FOOT.wrap(foot, self.page.format.inner());
        Ok(())
    }

    /// The pages.
    pub fn finish(mut self) -> Result<Vec<String>, FigureError> {
        self.turn()?;
        Ok(self.done)
    }

    /// Ends the page and begins the next.
    pub fn turn(&mut self) -> Result<(), FigureError> {
        let format = self.page.format;
        let page = std::mem::replace(&mut self.page, Page::new(format));
        let top = self.bottom() + grid(6.0);
        page.within(Role::Paragraph, "", || page.lines(&self.foot, (format.margin, top), FOOT))?;
        let id = format!("page-{}", self.done.len() + 1);
        self.done.push(page.finish(&id, &self.title, &self.title)?);
        Ok(())
    }

    /// Height that is left on the page.
    pub fn room(&self) -> i32 {
        self.bottom() - self.page.y
    }

    /// Begins the next page if a block of this height finds no room on this one.
    fn keep(&mut self, height: i32) -> Result<(), FigureError> {
        match height > self.room() && self.page.y > self.page.format.margin {
            true => self.turn(),
            false => Ok(()),
        }
    }

    fn bottom(&self) -> i32 {
        let Format { height, margin, .. } = self.page.format;
        height - margin - self.foot.len() as i32 * FOOT.leading()
    }

    /// A heading, kept together with as much below it.
    pub fn heading(&mut self, level: u8, text: &str, below: i32) -> Result<(), FigureError> {
        let look = match level {
            1 => Type::bold(20.0),
            2 => Type::bold(15.5),
            _ => Type::bold(14.0),
        };
        let lines = look.wrap(text, self.page.format.inner());
        let height = lines.len() as i32 * look.leading() + grid(4.0);
        self.keep(height + below)?;
        if self.page.y > self.page.format.margin {
            self.page.y += grid(8.0);
        }
        let at = (self.page.format.margin, self.page.y);
        self.page.within(Role::Heading(level), text, || self.page.lines(&lines, at, look))?;
        self.page.y += height;
        Ok(())
    }

    pub fn paragraph(&mut self, text: &str) -> Result<(), FigureError> {
        self.words(text, BODY)
    }

    pub fn bold(&mut self, text: &str) -> Result<(), FigureError> {
        self.words(text, BOLD)
    }

    fn words(&mut self, text: &str, look: Type) -> Result<(), FigureError> {
        let lines = look.wrap(text, self.page.format.inner());
        if lines.is_empty() {
            return Ok(());
        }
        let height = lines.len() as i32 * look.leading() + grid(3.0);
        self.keep(height)?;
        let at = (self.page.format.margin, self.page.y);
        self.page.within(Role::Paragraph, "", || self.page.lines(&lines, at, look))?;
        self.page.y += height;
        Ok(())
    }

    /// Paragraphs in a box.
    pub fn boxed(&mut self, paragraphs: &[&str]) -> Result<(), FigureError> {
        let (air, look) = (grid(9.0), BODY);
        let widest = self.page.format.inner() - 2 * air;
        let set: Vec<Vec<String>> = paragraphs
            .iter()
            .map(|text| look.wrap(text, widest))
            .filter(|lines| !lines.is_empty())
            .collect();
        let count = set.iter().map(Vec::len).sum::<usize>() as i32;
        let height = count * look.leading() + set.len() as i32 * grid(3.0) + 2 * air;
        self.keep(height)?;
        let Format { margin, width, .. } = self.page.format;
        let top = self.page.y;
        self.page.outline([(margin, top), (width - margin, top + height)], 1.2)?;
        let mut y = top + air;
        for lines in &set {
            let at = (margin + air, y);
            self.page.within(Role::Paragraph, "", || self.page.lines(lines, at, look))?;
            y += lines.len() as i32 * look.leading() + grid(3.0);
        }
        self.page.y = top + height + grid(8.0);
        Ok(())
    }

    /// Lines to write on.
    pub fn blank(&mut self, count: usize) -> Drawn {
        let Format { margin, width, .. } = self.page.format;
        for _ in 0..count {
            self.page.y += blank_line();
            let y = self.page.y;
            self.page.line((margin, y), (width - margin, y), theme::SOFT_INK, 0.8)?;
        }
        Ok(())
    }

    /// A figure in the middle of the page, as large as a height and the width allow.
    pub fn figure(&mut self, figure: &Figure, height: i32) -> Result<(), FigureError> {
        let (wide, high) = figure.size();
        let Format { margin, .. } = self.page.format;
        let inner = self.page.format.inner();
        let percent =
            (100 * inner / grid(f64::from(wide))).min(100 * height / grid(f64::from(high)));
        let percent = percent.clamp(1, 200);
        let (wide, high) =
            (grid(f64::from(wide)) * percent / 100, grid(f64::from(high)) * percent / 100);
        self.keep(high)?;
        self.page.put(figure, (margin + (inner - wide) / 2, self.page.y), percent as u32);
        self.page.y += high + grid(4.0);
        Ok(())
    }

    /// A table: widths of its columns as parts of the page's, cells, the first row
    /// a head where `headed`, the first column its rows' names.
    pub fn table(
        &mut self,
        label: &str,
        parts: &[i32],
        rows: &[Vec<String>],
        headed: bool,
    ) -> Result<(), FigureError> {
        let whole: i32 = parts.iter().sum();
        let inner = self.page.format.inner();
        let edges: Vec<i32> = std::iter::once(0)
            .chain(parts.iter().scan(0, |sum, part| {
                *sum += part;
                Some(*sum * inner / whole)
            }))
            .collect();
        let rows: Vec<Row> = rows.iter().map(|cells| Row::new(cells, &edges)).collect();
        let head = usize::from(headed && rows.len() > 1);
        let mut next = head;
        while next < rows.len() {
            let head_height: i32 = rows[..head].iter().map(|row| row.height).sum();
            self.keep(head_height + rows[next].height)?;
            let mut room = self.room() - head_height;
            let mut last = next;
            while last < rows.len() && (last == next || rows[last].height <= room) {
                room -= rows[last].height;
                last += 1;
            }
            let mut y = self.page.y;
            let shown = rows[..head].iter().map(|row| (true, row));
            let shown = shown.chain(rows[next..last].iter().map(|row| (false, row)));
            self.page.within(Role::Table, label, || {
                shown.into_iter().try_for_each(|(is_head, row)| {
                    row.draw(&self.page, y, &edges, is_head)?;
                    y += row.height;
                    Ok::<(), FigureError>(())
                })
            })?;
            self.page.y = y + grid(6.0);
            next = last;
        }
        Ok(())
    }
}

/// Height of a line to write on.
pub(super) fn blank_line() -> i32 {
    grid(27.0)
}

/// A row of a table.
struct Row {
    cells: Vec<Vec<String>>,
    height: i32,
}

impl Row {
    fn new(cells: &[String], edges: &[i32]) -> Self {
        let widths = edges.windows(2).map(|pair| pair[1] - pair[0] - grid(9.0));
        let cells: Vec<Vec<String>> =
            cells.iter().zip(widths).map(|(text, width)| CELL.wrap(text, width)).collect();
        let most = cells.iter().map(Vec::len).max().unwrap_or(0) as i32;
        // A blank cell is one to write in.
        let least = if cells.iter().any(Vec::is_empty) { grid(30.0) } else { 0 };
        Self { cells, height: (most * CELL.leading() + grid(8.0)).max(least) }
    }

    fn draw(&self, page: &Page, y: i32, edges: &[i32], head: bool) -> Drawn {
        let margin = page.format.margin;
        page.within(Role::Row, "", || {
            self.cells.iter().zip(edges.windows(2)).enumerate().try_for_each(
                |(i, (lines, edge))| {
                    let role = match (head, i) {
                        (true, _) => Role::ColumnHeader,
                        (false, 0) => Role::RowHeader,
                        (false, _) => Role::Cell,
                    };
                    let (left, right) = (margin + edge[0], margin + edge[1]);
                    page.within(role, "", || {
                        if head {
                            page.ground([(left, y), (right, y + self.height)], theme::SHADE)?;
                        }
                        page.outline([(left, y), (right, y + self.height)], 0.8)?;
                        let first = y + grid(4.0);
                        lines.iter().zip(0..).try_for_each(|(line, i)| {
                            let at = (left + grid(5.0), first + i * CELL.leading());
                            page.words(line, at, CELL, HPos::Left)
                        })
                    })
                },
            )
        })
    }
}
