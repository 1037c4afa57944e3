//! Tables of reference values, one folder for each topic under `reference/`.
//!
//! Each folder says in `source.md` where its numbers come from; columns carry
//! their unit in the name.

use std::collections::BTreeMap;
use std::path::Path;

/// One row of a table, read by the names of its columns.
#[derive(Clone, Debug)]
pub struct Row {
    place: String,
    cells: BTreeMap<String, String>,
}

/// The rows of `reference/<file>`.
///
/// # Panics
/// When the file is missing or not a table: a test without its reference has failed.
///
/// ```
/// let rows = tidewright_tests::reference::rows("linear-breaths/machines.csv");
/// assert_eq!(rows[0].text("machine"), "cat");
/// assert_eq!(rows[0].number("weight_kg"), 4.0);
/// ```
#[must_use]
pub fn rows(file: &str) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference").join(file);
    let mut reader =
        csv::Reader::from_path(&path).unwrap_or_else(|fault| panic!("{file}: {fault}"));
    let records = reader.deserialize::<BTreeMap<String, String>>().zip(2..);
    records
        .map(|(cells, line)| Row {
            place: format!("{file}, row {line}"),
            cells: cells.unwrap_or_else(|fault| panic!("{file}: {fault}")),
        })
        .collect()
}

impl Row {
    /// The text under `column`.
    ///
    /// # Panics
    /// When there is no such column.
    #[must_use]
    pub fn text(&self, column: &str) -> &str {
        let cell = self.cells.get(column);
        cell.unwrap_or_else(|| panic!("{}: no column {column}", self.place))
    }

    /// The number under `column`.
    ///
    /// # Panics
    /// When there is no such column, or no number in it.
    #[must_use]
    pub fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse().unwrap_or_else(|_| panic!("{}: {column} is {text:?}", self.place))
    }
}
