//! Tables of a class: read with every fault told, written safe for a spreadsheet.

use std::fmt;

use serde::Serialize;
use thiserror::Error;
use tidewright_scenario::report::CSV_CAUTION;
use tidewright_scenario::{cell, delimiter, visible};

/// Most faults that are told; the others are only counted.
const MOST_TOLD: usize = 20;

/// One fault of a table.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("line {line}: {what}")]
pub struct TableFault {
    /// Its line, from 1.
    pub line: u64,
    /// What is wrong there, and how it would be right.
    pub what: String,
}

/// A roster or a key that cannot be used: every fault of it, in the order of its lines.
#[derive(Clone, Debug, Error, PartialEq)]
pub struct TableError(pub Vec<TableFault>);

impl fmt::Display for TableError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, fault) in self.0.iter().take(MOST_TOLD).enumerate() {
            let break_before = if index > 0 { "\n" } else { "" };
            write!(f, "{break_before}{fault}")?;
        }
        match self.0.len().saturating_sub(MOST_TOLD) {
            0 => Ok(()),
            more => write!(f, "\nand {more} faults more: mend these first"),
        }
    }
}

/// A line of a table: its number, and its cells in the order of the wanted columns.
pub(super) struct Line {
    pub line: u64,
    pub cells: Vec<String>,
}

/// Reads the wanted columns of a table parted by commas, semicolons or tabs. Columns are
/// found by their names in any case; others are left out.
pub(super) fn read(text: &str, columns: &[&str], faults: &mut Vec<TableFault>) -> Vec<Line> {
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter(text.as_bytes()))
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut note = |line, what| faults.push(TableFault { line, what });
    let headers = reader.headers().cloned().unwrap_or_default();
    let mut places = Vec::new();
    for column in columns {
        let mut found = (0..headers.len()).filter(|&i| headers[i].eq_ignore_ascii_case(column));
        match (found.next(), found.next()) {
            (Some(place), None) => places.push(place),
            (None, _) => note(1, format!("the first line must name a column `{column}`")),
            _ => note(1, format!("the first line names the column `{column}` twice")),
        }
    }
    if places.len() < columns.len() {
        return Vec::new();
    }
    let mut lines = Vec::new();
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                note(error.position().map_or(1, csv::Position::line), error.to_string());
                break;
            }
        };
        let line = record.position().map_or(0, csv::Position::line);
        if record.iter().any(|cell| cell.contains(['\n', '\r'])) {
            let what = "a quote `\"` is opened here and not closed on its line: close it, or \
                        remove it";
            note(line, what.to_owned());
            continue;
        }
        if record.len() != headers.len() {
            let (has, wanted) = (record.len(), headers.len());
            note(line, format!("{has} cells, and the first line names {wanted} columns"));
            continue;
        }
        let cells = places.iter().map(|&place| record[place].to_owned()).collect();
        lines.push(Line { line, cells });
    }
    lines
}

/// A cell as it may be quoted in a message.
pub(super) fn quoted(cell: &str) -> String {
    let shown: String = cell.chars().take(60).collect();
    visible(&shown).replace('\n', " ")
}

/// Rows as comma-separated values, each cell safe in a spreadsheet (see
/// [`tidewright_scenario::cell`]); last the caution, as the head of an empty column.
#[must_use]
pub fn to_csv(rows: &[impl Serialize]) -> String {
    const ANY: &str = "texts and numbers can always be written";
    let mut plain = csv::Writer::from_writer(Vec::new());
    for row in rows {
        plain.serialize(row).expect(ANY);
    }
    let plain = plain.into_inner().expect(ANY);
    let mut safe = csv::Writer::from_writer(Vec::new());
    let mut records = csv::ReaderBuilder::new().has_headers(false).from_reader(&*plain);
    for (index, record) in records.records().enumerate() {
        let record = record.expect("what was just written can be read");
        let last = if index == 0 { CSV_CAUTION } else { "" };
        let cells = record.iter().chain([last]).map(|text| cell(text).into_owned());
        safe.write_record(cells).expect(ANY);
    }
    String::from_utf8_lossy(&safe.into_inner().expect(ANY)).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_form_a_cell_that_would_be_a_formula_is_text() {
        let rows = [("=1+2", "-3"), ("@a", "\u{202e}b"), (" +x", "c,\"d\"")];
        let text = to_csv(&rows);
        let first = format!("'=1+2,-3,{CSV_CAUTION}\n");
        assert_eq!(text, first + "'@a,\\u{202e}b,\n' +x,\"c,\"\"d\"\"\",\n");
    }
}
