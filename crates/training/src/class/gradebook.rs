//! What a teacher keeps of a class: a row for each student, how each criterion did, and
//! how well health was told from disease.

use std::fmt::Write as _;

use serde::Serialize;
use tidewright_scenario::format::Id;
use tidewright_scenario::report::CSV_CAUTION;

use super::ClassRow;
use crate::judge::detect::Detection;
use crate::judge::mark::Judged;
use crate::words::text::said;

/// How numbers and columns are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Style {
    /// `12.5` and a comma between columns.
    #[default]
    Comma,
    /// `12,5` and a semicolon between columns: what spreadsheets of many countries read.
    Semicolon,
}

/// How one criterion did in a class.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Item {
    /// What is measured.
    pub measure: String,
    /// Its strand.
    pub strand: &'static str,
    /// Attempts in which it was judged.
    pub judged: usize,
    /// Share of them that met it, percent.
    pub met_percent: f64,
    /// How far who met it did better in all the rest than who did not: the correlation of
    /// met with the points got elsewhere, −1 to 1. Null where all did the same.
    pub discrimination: Option<f64>,
}

/// How well a class told cases from health.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Telling {
    /// Something was wrong, and was taken to be.
    pub hits: usize,
    /// Something was wrong, and was taken for health.
    pub misses: usize,
    /// Nothing was wrong, and something was taken to be.
    pub false_alarms: usize,
    /// Nothing was wrong, and it was left alone.
    pub correct_rejections: usize,
    /// z(hit rate) − z(false-alarm rate), each rate with half a count added to both sides,
    /// so that rates of 0 and 1 have one; pressing everything gives about 0. Null without
    /// both kinds of cases.
    pub d_prime: Option<f64>,
}

/// The criteria of a class, in the order in which they first stand.
#[must_use]
pub fn items(rows: &[ClassRow]) -> Vec<Item> {
    let mut measures: Vec<(&str, &'static str)> = Vec::new();
    for judged in rows.iter().flat_map(|row| &row.criteria) {
        if !measures.iter().any(|(measure, _)| *measure == judged.measure) {
            measures.push((&judged.measure, judged.strand));
        }
    }
    let item = |(measure, strand): (&str, &'static str)| {
        let of = |row: &ClassRow| {
            let own = row.criteria.iter().find(|one| one.measure == measure)?;
            let rest = row.criteria.iter().filter(|one| one.measure != measure);
            let (got, most) =
                rest.fold((0.0, 0.0), |(got, most), one| (got + one.points, most + one.points_of));
            Some((f64::from(own.met), if most > 0.0 { got / most } else { 0.0 }))
        };
        let pairs: Vec<(f64, f64)> = rows.iter().filter_map(of).collect();
        let met: f64 = pairs.iter().map(|(met, _)| met).sum();
        Item {
            measure: measure.to_owned(),
            strand,
            judged: pairs.len(),
            met_percent: 100.0 * met / pairs.len() as f64,
            discrimination: correlation(&pairs),
        }
    };
    measures.into_iter().map(item).collect()
}

/// How each criterion did, and who told cases from health, as one JSON object.
#[must_use]
pub fn items_to_json(rows: &[ClassRow]) -> String {
    let class = serde_json::json!({ "items": items(rows), "telling": telling(rows) });
    format!("{class:#}\n")
}

fn correlation(pairs: &[(f64, f64)]) -> Option<f64> {
    let count = pairs.len() as f64;
    let (x, y) = pairs.iter().fold((0.0, 0.0), |(x, y), one| (x + one.0, y + one.1));
    let (x, y) = (x / count, y / count);
    let sums = pairs.iter().fold((0.0, 0.0, 0.0), |(xx, yy, xy), one| {
        let (dx, dy) = (one.0 - x, one.1 - y);
        (xx + dx * dx, yy + dy * dy, xy + dx * dy)
    });
    let spread = sums.0 * sums.1;
    (spread > 0.0).then(|| sums.2 / spread.sqrt())
}

/// How well a class told cases from health.
#[must_use]
pub fn telling(rows: &[ClassRow]) -> Telling {
    let count = |wanted| rows.iter().filter(|row| row.detection == Some(wanted)).count();
    let (hits, misses) = (count(Detection::Hit), count(Detection::Miss));
    let (false_alarms, correct_rejections) =
        (count(Detection::FalseAlarm), count(Detection::CorrectRejection));
    let rate = |of: usize, all: usize| (of as f64 + 0.5) / (all as f64 + 1.0);
    let (ill, well) = (hits + misses, false_alarms + correct_rejections);
    let d_prime = (ill > 0 && well > 0).then(|| z(rate(hits, ill)) - z(rate(false_alarms, well)));
    Telling { hits, misses, false_alarms, correct_rejections, d_prime }
}

/// The place on a normal distribution below which a share lies, by halving.
fn z(share: f64) -> f64 {
    let below = |x: f64| 0.5 * libm::erfc(-x * std::f64::consts::FRAC_1_SQRT_2);
    let (mut low, mut high) = (-8.0, 8.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if below(middle) < share { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// A row for each student: those of the roster who handed in nothing, too. Of several
/// attempts the best counts: passed before not passed, then points.
#[must_use]
pub fn gradebook(rows: &[ClassRow], roster: &[Id], style: Style) -> String {
    let items = items(rows);
    let mut students: Vec<&str> = roster.iter().map(Id::as_str).collect();
    for row in rows {
        if !students.contains(&row.pseudonym.as_str()) {
            students.push(&row.pseudonym);
        }
    }
    let mut table = Table { style, text: String::new() };
    let heads =
        ["pseudonym", "attempts", "percent", "passed", "safe", "points", "points_of", "told_case"];
    let own = items.iter().map(|item| item.measure.clone());
    let last = ["file", CSV_CAUTION].map(str::to_owned);
    table.line(heads.iter().map(|head| (*head).to_owned()).chain(own).chain(last));
    for student in students {
        let of: Vec<&ClassRow> = rows.iter().filter(|row| row.pseudonym == student).collect();
        let rank = |row: &ClassRow| (row.result == "passed", row.percent.unwrap_or(-1.0));
        let best = of.iter().max_by(|a, b| {
            let (a, b) = (rank(a), rank(b));
            a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
        });
        let yes = |so: bool| if so { "yes" } else { "no" }.to_owned();
        let number =
            |value: Option<f64>| value.map_or_else(String::new, |value| table.number(value));
        let criteria = items.iter().map(|item| {
            let judged =
                best.and_then(|row| row.criteria.iter().find(|one| one.measure == item.measure));
            judged.map_or_else(String::new, |one: &Judged| match one.points_of {
                of if of > 0.0 => table.number(one.points),
                _ => yes(one.met),
            })
        });
        let cells = [
            student.to_owned(),
            of.len().to_string(),
            number(best.and_then(|row| row.percent)),
            best.map_or_else(String::new, |row| yes(row.result == "passed")),
            best.and_then(|row| row.safe).map_or_else(String::new, yes),
            number(best.and_then(|row| row.points)),
            number(best.and_then(|row| row.points_of)),
            best.and_then(|row| row.detection)
                .map_or_else(String::new, |one| one.in_words().to_owned()),
        ];
        let file = best.map_or_else(String::new, |row| row.file.clone());
        let line: Vec<String> =
            cells.into_iter().chain(criteria).chain([file, String::new()]).collect();
        table.line(line.into_iter());
    }
    table.text
}

struct Table {
    style: Style,
    text: String,
}

impl Table {
    fn number(&self, value: f64) -> String {
        let text = said(value);
        if self.style == Style::Semicolon { text.replace('.', ",") } else { text }
    }

    fn line(&mut self, cells: impl Iterator<Item = String>) {
        let between = if self.style == Style::Semicolon { ';' } else { ',' };
        for (index, cell) in cells.enumerate() {
            if index > 0 {
                self.text.push(between);
            }
            if cell.contains([',', ';', '"', '\n']) {
                let _ = write!(self.text, "\"{}\"", cell.replace('"', "\"\""));
            } else {
                self.text.push_str(&cell);
            }
        }
        self.text.push('\n');
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked in published tutorials on signal detection: hit rate .90 with .20 false
    /// alarms gives 2.12, .70 with .10 gives 1.81.
    #[test]
    fn published_d_prime_of_worked_examples() {
        for (hit, alarm, d_prime) in [(0.9, 0.2, 2.12), (0.7, 0.1, 1.81), (0.4, 0.4, 0.0)] {
            assert!((z(hit) - z(alarm) - d_prime).abs() < 0.006, "{hit} {alarm}");
        }
    }

    #[test]
    fn law_what_all_did_alike_tells_nobody_apart() {
        assert_eq!(correlation(&[(1.0, 0.2), (1.0, 0.9)]), None);
        let apart = correlation(&[(0.0, 0.2), (1.0, 0.9), (0.0, 0.2), (1.0, 0.9)]);
        assert!(apart.is_some_and(|apart| (apart - 1.0).abs() < 1e-12));
    }
}
