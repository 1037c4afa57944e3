//! Text laid out for a person: wrapped to the width of the terminal.

use std::fmt::Write as _;

use anstyle::Style;
use textwrap::core::display_width;
use textwrap::{Options, WordSeparator, WordSplitter};

use crate::files::output;
use crate::files::problem::Problem;

/// Longer lines are hard to read, however wide the terminal is.
const LONGEST_LINE: usize = 100;

/// The only style: colours and dim letters are hard to read on some screens.
const STRONG: Style = Style::new().bold();

/// A space at which no line is broken.
const TIE: char = '\u{A0}';

/// Ties units to their numbers, so that no line ends between them.
fn with_units(text: &str) -> String {
    let mut tied = String::with_capacity(text.len());
    for c in text.chars() {
        let after_number = tied.ends_with(|c: char| c.is_ascii_digit());
        tied.push(if c == ' ' && after_number { TIE } else { c });
    }
    tied
}

/// On which side of a column its cells stand.
#[derive(Clone, Copy, Debug)]
pub enum Align {
    Left,
    Right,
}

/// A page for standard output.
#[derive(Debug)]
pub struct Page {
    text: String,
    width: usize,
}

impl Page {
    /// An empty page, as wide as standard output.
    pub fn new() -> Self {
        Self { text: String::new(), width: output::width() }
    }

    /// How many characters fit on a line.
    pub fn width(&self) -> usize {
        self.width
    }

    /// A heading, set off from what is above it.
    pub fn heading(&mut self, text: &str) {
        if !self.text.is_empty() {
            self.gap();
        }
        self.wrapped(text, STRONG, "", "");
    }

    /// A line that stands out.
    pub fn strong(&mut self, text: &str) {
        self.wrapped(text, STRONG, "", "");
    }

    /// Running text.
    pub fn paragraph(&mut self, text: &str) {
        self.wrapped(text, Style::new(), "", "");
    }

    /// Running text that must not be missed.
    pub fn warning(&mut self, text: &str) {
        self.wrapped(text, STRONG, "! ", "  ");
    }

    /// An entry of a list behind its mark.
    pub fn item(&mut self, mark: &str, text: &str) {
        let rest = " ".repeat(mark.chars().count());
        self.wrapped(text, Style::new(), mark, &rest);
    }

    /// Names with what belongs to them, the texts in one column.
    pub fn entries(&mut self, entries: &[(String, String)]) {
        let names = entries.iter().map(|(name, _)| display_width(name)).max().unwrap_or_default();
        for (name, text) in entries {
            self.item(&format!("{name:<names$}  "), text);
        }
    }

    /// Rows of two: one under the other where they do not fit side by side.
    pub fn pairs(&mut self, pairs: &[(&str, &str)]) {
        let first = pairs.iter().map(|(a, _)| display_width(a)).max().unwrap_or_default();
        let second = pairs.iter().map(|(_, b)| display_width(b)).max().unwrap_or_default();
        for (a, b) in pairs {
            if first + second + 4 <= self.width {
                self.lines(format_args!("  {a:<first$}  {b}\n"));
            } else {
                self.lines(format_args!("  {a}\n"));
                self.item("      ", b);
            }
        }
    }

    /// A table with a heading for each column.
    pub fn table<const N: usize>(&mut self, columns: [(&str, Align); N], rows: &[[String; N]]) {
        let columns = columns.map(|(head, align)| (head.to_owned(), align));
        self.columns(&columns, &rows.iter().map(|row| row.to_vec()).collect::<Vec<_>>());
    }

    /// A table of which the number of columns is not known before; each row has a
    /// cell for each of them.
    pub fn columns(&mut self, columns: &[(String, Align)], rows: &[Vec<String>]) {
        let heads: Vec<String> = columns.iter().map(|(head, _)| head.clone()).collect();
        let rows = || std::iter::once(&heads).chain(rows);
        let widths: Vec<usize> = (0..columns.len())
            .map(|i| rows().map(|row| display_width(&row[i])).max().unwrap_or_default())
            .collect();
        for row in rows() {
            let mut line = String::new();
            for (i, (_, align)) in columns.iter().enumerate() {
                let room = " ".repeat(widths[i] - display_width(&row[i]));
                line += &match align {
                    Align::Left => format!("{}{room}  ", row[i]),
                    Align::Right => format!("{room}{}  ", row[i]),
                };
            }
            self.lines(format_args!("{}\n", line.trim_end()));
        }
    }

    /// A text whose lines are laid out already; those that do not fit are wrapped.
    pub fn laid_out(&mut self, text: &str) {
        for line in text.lines() {
            if display_width(line) <= self.width.min(LONGEST_LINE) {
                self.lines(format_args!("{line}\n"));
            } else {
                let indent = line.len() - line.trim_start_matches([' ', '-', '(']).len();
                let (first, text) = line.split_at(indent);
                self.item(first, text);
            }
        }
    }

    /// Lines that are laid out already.
    pub fn lines(&mut self, lines: impl std::fmt::Display) {
        // Writing to a `String` cannot fail.
        let _ = write!(self.text, "{lines}");
    }

    /// An empty line.
    pub fn gap(&mut self) {
        self.text.push('\n');
    }

    /// Prints the page.
    pub fn print(self) -> Result<(), Problem> {
        output::print(&self.text)
    }

    fn wrapped(&mut self, text: &str, style: Style, first: &str, rest: &str) {
        let options = Options::new(self.width.min(LONGEST_LINE))
            .initial_indent(first)
            .subsequent_indent(rest)
            .word_separator(WordSeparator::AsciiSpace)
            .word_splitter(WordSplitter::NoHyphenation);
        for line in textwrap::wrap(&with_units(text), options) {
            let line = line.replace(TIE, " ");
            let _ = writeln!(self.text, "{style}{line}{style:#}");
        }
    }
}
