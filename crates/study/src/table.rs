//! Rows of comma-separated values.

use std::io::{self, Write};

/// Writes cells one by one, quoted where they must be; numbers with the shortest
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
        Ok(self.out.write_field(text)?)
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
