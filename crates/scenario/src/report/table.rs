//! The breaths of a run as a table for a person.

mod alike;

use std::collections::VecDeque;
use std::fmt;

use alike::Shown;
use tidewright::breath::Breath;
use tidewright::exchange::GasBreath;

use super::Progress;
use super::words::said;
use crate::format::Scenario;
use crate::measure::ended_by;

/// Most rows at the beginning and at the end of a long table.
const FIRST_ROWS: usize = 40;
const LAST_ROWS: usize = 10;

struct Column {
    name: &'static str,
    /// The name on two lines.
    narrow: [&'static str; 2],
    unit: &'static str,
    /// Where there is no room, columns with a high number go first.
    spare: u8,
}

const fn column(
    name: &'static str,
    narrow: [&'static str; 2],
    unit: &'static str,
    spare: u8,
) -> Column {
    Column { name, narrow, unit, spare }
}

/// Columns of gas exchange stand behind the others.
const COLUMNS: [Column; 16] = [
    column("start", ["", "start"], "s", 6),
    column("insp. time", ["insp.", "time"], "s", 0),
    column("exp. time", ["exp.", "time"], "s", 11),
    column("ended by", ["ended", "by"], "", 1),
    column("volume in", ["vol.", "in"], "mL", 9),
    column("volume out", ["vol.", "out"], "mL", 2),
    column("per kg", ["vol.", "out"], "mL/kg", 8),
    column("peak", ["", "peak"], "cmH2O", 3),
    column("baseline", ["base-", "line"], "cmH2O", 5),
    column("alveolar", ["alve-", "olar"], "cmH2O", 7),
    column("leaked", ["", "leak"], "mL", 10),
    column("rate", ["", "rate"], "/min", 4),
    column("EtCO2", ["", "EtCO2"], "mmHg", 1),
    column("mean inspired CO2", ["mean in", "CO2"], "mmHg", 3),
    column("PaCO2", ["", "PaCO2"], "mmHg", 3),
    column("SpO2", ["", "SpO2"], "%", 2),
];
const GAS_COLUMNS: usize = 4;

/// A cell to which there is nothing to say.
const NOTHING: &str = "–";

/// The breaths of a run as a table for a person: breaths that look alike share a
/// row, which shows the first of them (with gas exchange, alike within what a monitor
/// shows), and of a long table only the beginning and the end are shown.
#[derive(Clone, Debug)]
pub struct Table {
    weight_kg: f64,
    gas: bool,
    own_breaths: u64,
    first: Vec<Row>,
    last: VecDeque<Row>,
    skipped: u64,
}

#[derive(Clone, Debug)]
struct Row {
    own: bool,
    from: u64,
    to: u64,
    cells: [String; COLUMNS.len()],
    numbers: Shown,
}

impl Table {
    /// An empty table.
    #[must_use]
    pub fn new(scenario: &Scenario) -> Self {
        let weight_kg = scenario.patient.weight_kg;
        let gas = scenario.gas.is_some();
        let (first, last) = (Vec::new(), VecDeque::new());
        Self { weight_kg, gas, own_breaths: 0, first, last, skipped: 0 }
    }

    /// Takes the next breath.
    pub fn take(&mut self, breath: &Breath) {
        self.add(self.row(breath, None));
    }

    /// Takes what a run has come to: a breath with its gases, and the patient's
    /// own breaths.
    pub fn progress(&mut self, progress: &Progress<'_, '_>) {
        for breath in progress.own_breaths() {
            self.own_breaths += 1;
            self.add(self.own_row(breath));
        }
        if let Some(breath) = progress.breath {
            self.add(self.row(breath, progress.breath_gas));
        }
    }

    fn add(&mut self, row: Row) {
        let gas = self.gas;
        let before = self.last.back_mut().or(self.first.last_mut());
        if let Some(before) = before.filter(|before| before.is_like(&row, gas)) {
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

    fn row(&self, breath: &Breath, gas: Option<&GasBreath>) -> Row {
        let [end_tidal, inspired, arterial, saturation] = gas_cells(gas);
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
            end_tidal,
            inspired,
            arterial,
            saturation,
        ]
        .map(without_minus_zero);
        let numbers = Shown::of(breath, gas);
        Row { own: false, from: breath.number, to: breath.number, cells, numbers }
    }

    fn own_row(&self, breath: &GasBreath) -> Row {
        let nothing = || NOTHING.to_owned();
        let [end_tidal, inspired, arterial, saturation] = gas_cells(Some(breath));
        let cells = [
            format!("{:.1}", breath.start.as_s()),
            nothing(),
            nothing(),
            "own".to_owned(),
            said_short(breath.inspired.as_ml()),
            said_short(breath.expired.as_ml()),
            format!("{:.1}", breath.expired.as_ml() / self.weight_kg),
            nothing(),
            nothing(),
            nothing(),
            nothing(),
            format!("{:.0}", 60.0 / breath.duration.as_s()),
            end_tidal,
            inspired,
            arterial,
            saturation,
        ]
        .map(without_minus_zero);
        let numbers = Shown::of_own(breath);
        Row { own: true, from: self.own_breaths, to: self.own_breaths, cells, numbers }
    }
}

/// End-tidal, inspired and arterial carbon dioxide, saturation.
fn gas_cells(gas: Option<&GasBreath>) -> [String; GAS_COLUMNS] {
    let Some(gas) = gas else { return [(); GAS_COLUMNS].map(|()| NOTHING.to_owned()) };
    // A cycle without gas for the lung has no carbon dioxide in or out.
    let of_breath = |text: String| if gas.reaches_lung { text } else { NOTHING.to_owned() };
    [
        of_breath(format!("{:.0}", gas.end_tidal_carbon_dioxide.as_mmhg())),
        of_breath(format!("{:.1}", gas.mean_inspired_carbon_dioxide.as_mmhg())),
        format!("{:.0}", gas.arterial_carbon_dioxide.as_mmhg()),
        format!("{:.0}", 100.0 * gas.arterial_saturation),
    ]
}

/// A volume with a digit behind the point unless it is large.
fn volume(ml: f64) -> String {
    if ml.abs() < 99.95 { format!("{ml:.1}") } else { said(ml) }
}

/// As [`volume`], whole sooner: own breaths vary, and would each have a row.
fn said_short(ml: f64) -> String {
    if ml.abs() < 9.95 { format!("{ml:.1}") } else { format!("{ml:.0}") }
}

fn without_minus_zero(text: String) -> String {
    let zero = text.starts_with('-') && !text.contains(|c: char| ('1'..='9').contains(&c));
    if zero { text[1..].to_owned() } else { text }
}

impl Row {
    /// Whether a breath goes into this row: the same in every cell, or with gas exchange
    /// the same to a person at a monitor.
    fn is_like(&self, breath: &Self, gas: bool) -> bool {
        let ended_by = 3;
        if !gas {
            return self.cells[1..] == breath.cells[1..];
        }
        self.own == breath.own
            && self.cells[ended_by] == breath.cells[ended_by]
            && self.numbers.is_like(&breath.numbers)
    }

    fn breaths(&self) -> String {
        let own = if self.own { "own " } else { "" };
        if self.from == self.to {
            format!("{own}{}", self.from)
        } else {
            format!("{own}{}–{}", self.from, self.to)
        }
    }
}

/// A table laid out for a given width.
#[derive(Clone, Debug, PartialEq)]
pub struct Fitted {
    /// Its lines.
    pub lines: String,
    /// What it leaves out: columns in which all rows are alike, with their value,
    /// and columns that had no room.
    pub note: Option<String>,
}

impl Table {
    /// The table in lines of at most `width` characters, as far as its most
    /// important columns allow.
    ///
    /// ```
    /// use tidewright_scenario::{DEMO, parse, report};
    /// let scenario = parse("demo.ron", DEMO)?;
    /// let mut table = report::Table::new(&scenario);
    /// report::run(&scenario, |_, breath| {
    ///     breath.into_iter().for_each(|breath| table.take(breath));
    ///     Ok(())
    /// })?;
    /// let fitted = table.within(80);
    /// assert!(fitted.lines.lines().all(|line| line.chars().count() <= 80));
    /// assert!(fitted.note.unwrap().contains("exp. time "));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn within(&self, width: usize) -> Fitted {
        let mut layout = Layout::new(self, false, 2);
        if layout.width() > width {
            layout = Layout::new(self, true, 2);
        }
        let mut by_spare: Vec<usize> = (0..COLUMNS.len()).collect();
        by_spare.sort_by_key(|&i| std::cmp::Reverse(COLUMNS[i].spare));
        let mut same = Vec::new();
        for &i in &by_spare {
            if layout.width() <= width {
                break;
            }
            if let Some(cell) = self.same_everywhere(i).filter(|_| layout.shows(i)) {
                let Column { name, unit, .. } = COLUMNS[i];
                same.push(format!("{name} {cell} {unit}").trim_end().to_owned());
                layout.leave_out(i);
            }
        }
        if layout.width() > width {
            layout.gap = 1;
        }
        let mut no_room = Vec::new();
        for i in by_spare {
            if layout.width() > width && COLUMNS[i].spare > 0 && layout.shows(i) {
                no_room.push(COLUMNS[i].name);
                layout.leave_out(i);
            }
        }
        let mut note = Vec::new();
        if !same.is_empty() {
            note.push(format!("In every breath: {}.", same.join(", ")));
        }
        if !no_room.is_empty() {
            note.push(format!("No room for: {}.", no_room.join(", ")));
        }
        let note = (!note.is_empty()).then(|| note.join(" "));
        Fitted { lines: layout.lines(), note }
    }

    fn rows(&self) -> impl Iterator<Item = &Row> {
        self.first.iter().chain(&self.last)
    }

    /// The cell of a column in which all rows are alike; rows left out may differ.
    fn same_everywhere(&self, column: usize) -> Option<&str> {
        let mut cells = self.rows().map(|row| row.cells[column].as_str());
        let first = cells.next().filter(|_| self.skipped == 0)?;
        cells.all(|cell| cell == first).then_some(first)
    }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&Layout::new(self, false, 2).lines())
    }
}

/// How a table is set.
struct Layout<'a> {
    table: &'a Table,
    narrow: bool,
    gap: usize,
    breaths: usize,
    /// Widths of the columns that are shown.
    widths: [Option<usize>; COLUMNS.len()],
}

impl<'a> Layout<'a> {
    fn new(table: &'a Table, narrow: bool, gap: usize) -> Self {
        let breaths = table.rows().map(|row| row.breaths().chars().count());
        let breaths = breaths.chain(["breath".len()]).max().unwrap_or_default();
        let widths = std::array::from_fn(|i| {
            let Column { name, narrow: [first, second], unit, .. } = COLUMNS[i];
            let heads = if narrow { [first, second, unit] } else { ["", name, unit] };
            let is_gas = i >= COLUMNS.len() - GAS_COLUMNS;
            let says_nothing = table.rows().all(|row| row.cells[i] == NOTHING);
            if (is_gas && !table.gas) || (says_nothing && table.rows().next().is_some()) {
                return None;
            }
            let cells = table.rows().map(|row| row.cells[i].chars().count());
            cells.chain(heads.map(str::len)).max()
        });
        Self { table, narrow, gap, breaths, widths }
    }

    fn shows(&self, column: usize) -> bool {
        self.widths[column].is_some()
    }

    fn leave_out(&mut self, column: usize) {
        self.widths[column] = None;
    }

    fn width(&self) -> usize {
        self.breaths + self.widths.iter().flatten().map(|width| self.gap + width).sum::<usize>()
    }

    fn lines(&self) -> String {
        let mut lines = String::new();
        if self.narrow {
            lines += &self.line("", COLUMNS.iter().map(|column| column.narrow[0]));
            lines += &self.line("breath", COLUMNS.iter().map(|column| column.narrow[1]));
        } else {
            lines += &self.line("breath", COLUMNS.iter().map(|column| column.name));
        }
        lines += &self.line("", COLUMNS.iter().map(|column| column.unit));
        let row = |row: &Row| self.line(&row.breaths(), row.cells.iter().map(String::as_str));
        lines.extend(self.table.first.iter().map(row));
        if self.table.skipped > 0 {
            let s = if self.table.skipped == 1 { "" } else { "s" };
            lines += &format!("… {} more row{s}\n", self.table.skipped);
        }
        lines.extend(self.table.last.iter().map(row));
        lines
    }

    fn line<'b>(&self, first: &str, cells: impl Iterator<Item = &'b str>) -> String {
        let mut line = format!("{first:>0$}", self.breaths);
        for (cell, width) in cells.zip(&self.widths) {
            if let Some(width) = width {
                line += &format!("{cell:>0$}", self.gap + width);
            }
        }
        line.truncate(line.trim_end().len());
        line + "\n"
    }
}
