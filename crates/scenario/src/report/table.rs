//! The breaths of a run as a table for a person.

use std::collections::VecDeque;
use std::fmt;

use tidewright::breath::Breath;

use super::json::ended_by;
use super::words::said;
use crate::format::Scenario;

/// Most rows at the beginning and at the end of a long table.
const FIRST_ROWS: usize = 40;
const LAST_ROWS: usize = 10;

const COLUMNS: [(&str, &str); 12] = [
    ("start", "s"),
    ("insp. time", "s"),
    ("exp. time", "s"),
    ("ended by", ""),
    ("volume in", "mL"),
    ("volume out", "mL"),
    ("per kg", "mL/kg"),
    ("peak", "cmH2O"),
    ("baseline", "cmH2O"),
    ("alveolar", "cmH2O"),
    ("leaked", "mL"),
    ("rate", "/min"),
];

/// The breaths of a run as a table for a person: breaths that look alike share a
/// row, and of a long table only the beginning and the end are shown.
#[derive(Clone, Debug)]
pub struct Table {
    weight_kg: f64,
    first: Vec<Row>,
    last: VecDeque<Row>,
    skipped: u64,
}

#[derive(Clone, Debug)]
struct Row {
    from: u64,
    to: u64,
    cells: [String; COLUMNS.len()],
}

impl Table {
    /// An empty table.
    #[must_use]
    pub fn new(scenario: &Scenario) -> Self {
        let weight_kg = scenario.patient.weight_kg;
        Self { weight_kg, first: Vec::new(), last: VecDeque::new(), skipped: 0 }
    }

    /// Takes the next breath.
    pub fn take(&mut self, breath: &Breath) {
        let row = self.row(breath);
        let before = self.last.back_mut().or(self.first.last_mut());
        if let Some(before) = before.filter(|before| before.cells[1..] == row.cells[1..]) {
            before.to = row.to;
        } else if self.last.is_empty() && self.first.len() < FIRST_ROWS {
            self.first.push(row);
        } else {
            self.last.push_back(row);
            if self.last.len() > LAST_ROWS {
                self.last.pop_front();
                self.skipped += 1;
            }
        }
    }

    fn row(&self, breath: &Breath) -> Row {
        let cells = [
            format!("{:.1}", breath.start.as_s()),
            format!("{:.2}", breath.inspiratory_time.as_s()),
            format!("{:.2}", breath.expiratory_time.as_s()),
            ended_by(breath.ended_by).to_owned(),
            volume(breath.inspired_tidal_volume.as_ml()),
            volume(breath.expired_tidal_volume.as_ml()),
            format!("{:.1}", breath.expired_tidal_volume.as_ml() / self.weight_kg),
            format!("{:.1}", breath.peak_pressure.as_cmh2o()),
            format!("{:.1}", breath.baseline_pressure.as_cmh2o()),
            format!("{:.1}", breath.end_expiratory_alveolar_pressure.as_cmh2o()),
            volume(breath.leaked.as_ml()),
            format!("{:.1}", breath.rate_per_min()),
        ]
        .map(without_minus_zero);
        Row { from: breath.number, to: breath.number, cells }
    }
}

/// A volume with a digit behind the point unless it is large.
fn volume(ml: f64) -> String {
    if ml.abs() < 99.95 { format!("{ml:.1}") } else { said(ml) }
}

fn without_minus_zero(text: String) -> String {
    let zero = text.starts_with('-') && !text.contains(|c: char| ('1'..='9').contains(&c));
    if zero { text[1..].to_owned() } else { text }
}

impl Row {
    fn breaths(&self) -> String {
        if self.from == self.to {
            self.from.to_string()
        } else {
            format!("{}–{}", self.from, self.to)
        }
    }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let rows = || self.first.iter().chain(&self.last);
        let breaths = rows().map(|row| row.breaths().chars().count()).chain(["breath".len()]).max();
        let breaths = breaths.unwrap_or_default();
        let widths: Vec<usize> = COLUMNS
            .iter()
            .enumerate()
            .map(|(i, (name, unit))| {
                let cells = rows().map(|row| row.cells[i].len());
                cells.chain([name.len(), unit.len()]).max().unwrap_or_default()
            })
            .collect();
        let mut line = |first: &str, cells: &mut dyn Iterator<Item = &str>| {
            write!(f, "{first:>breaths$}")?;
            for (cell, width) in cells.zip(&widths) {
                write!(f, "  {cell:>width$}")?;
            }
            writeln!(f)
        };
        line("breath", &mut COLUMNS.iter().map(|(name, _)| *name))?;
        line("", &mut COLUMNS.iter().map(|(_, unit)| *unit))?;
        for row in &self.first {
            line(&row.breaths(), &mut row.cells.iter().map(String::as_str))?;
        }
        if self.skipped > 0 {
            let s = if self.skipped == 1 { "" } else { "s" };
            line(&format!("… {} more row{s}", self.skipped), &mut std::iter::empty())?;
        }
        for row in &self.last {
            line(&row.breaths(), &mut row.cells.iter().map(String::as_str))?;
        }
        Ok(())
    }
}
