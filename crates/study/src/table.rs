//! Numbers in tables: for people, and as rows of comma-separated values.

use std::io::{self, Write};

use tidewright_scenario::cell;

/// Writes cells one by one, quoted where they must be and safe in a spreadsheet; numbers with the shortest
/// digits that read back as the same number.
pub(crate) struct Table<W: Write> {
    out: csv::Writer<W>,
    cell: String,
}

impl<W: Write> Table<W> {
    pub fn new(out: W) -> Self {
        Self { out: csv::WriterBuilder::new().flexible(true).from_writer(out), cell: String::new() }
    }

    pub fn text(&mut self, text: &str) -> io::Result<()> {
        Ok(self.out.write_field(&*cell(text))?)
    }

    pub fn texts(&mut self, texts: &[&str]) -> io::Result<()> {
        texts.iter().try_for_each(|text| self.text(text))
    }

    pub fn number(&mut self, value: f64) -> io::Result<()> {
        use std::fmt::Write as _;
        self.cell.clear();
        // Writing to a String cannot fail.
        let _ = if value != 0.0 && value.abs() < 1e-4 {
            write!(self.cell, "{value:e}")
        } else {
            write!(self.cell, "{value}")
        };
        Ok(self.out.write_field(&self.cell)?)
    }

    pub fn whole(&mut self, value: u64) -> io::Result<()> {
        use std::fmt::Write as _;
        self.cell.clear();
        let _ = write!(self.cell, "{value}");
        Ok(self.out.write_field(&self.cell)?)
    }

    pub fn end_row(&mut self) -> io::Result<()> {
        Ok(self.out.write_record(None::<&[u8]>)?)
    }

    pub fn finish(mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// Four digits that count, and no more than four decimals.
#[must_use]
pub fn digits(value: f64) -> String {
    let size = value.abs();
    let decimals = match size {
        _ if size >= 999.95 => 0,
        _ if size >= 99.995 => 1,
        _ if size >= 9.9995 => 2,
        _ if size >= 0.99995 => 3,
        _ => 4,
    };
    let text = format!("{value:.decimals$}");
    let zero = text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.');
    if zero { "0".to_owned() } else { text }
}
