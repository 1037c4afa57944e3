//! One or two fields of a scenario over ranges or lists: a row of measures for each
//! combination, and the data of a figure.

use std::io::{self, Write};

use rayon::prelude::*;
use thiserror::Error;
use tidewright::breath::{Breath, BreathMeter};
use tidewright::machine::Machine;
use tidewright::quantity::Mass;
use tidewright::run::Simulation;
use tidewright::steady::{SteadyError, periodic};
use tidewright_scenario::Scenario;
use tidewright_scenario::report::CSV_CAUTION;

pub use crate::axis::{Axis, AxisError, MOST_VALUES};
use crate::field::{Field, set_all};
use crate::table::Table;
use crate::{Metric, ended_by};

/// Most combinations of values.
pub const MOST_POINTS: usize = 1_000_000;

/// Which breaths are measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// The breath that the settings at the start settle to, found directly; the
    /// timeline does not matter.
    Settled,
    /// The first breaths of the run, timeline included: as many as this, or fewer
    /// if the run is over before.
    First(u32),
}

/// The rows of a sweep.
#[derive(Clone, Debug, PartialEq)]
pub struct Sweep {
    /// The fields swept: one or two.
    pub fields: Vec<Field>,
    /// A row for each combination (and breath); the last field changes fastest.
    pub rows: Vec<Row>,
    /// How many combinations were not measured, as the work was stopped.
    pub left: usize,
}

/// One combination of values and one breath.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The values of the fields.
    pub values: Vec<f64>,
    /// Body weight, for what is counted by kg.
    pub weight: Mass,
    /// The breath, or why there is none.
    pub breath: Result<Breath, String>,
}

/// A sweep that cannot be made.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum SweepError {
    /// None, or more than two fields.
    #[error("{0} fields: sweep one or two")]
    Fields(usize),
    /// The same field twice.
    #[error("{0} is given twice")]
    Twice(String),
    /// Too many combinations.
    #[error("{0} combinations: at most {MOST_POINTS}")]
    TooMany(usize),
    /// Not one combination can be run.
    #[error("no combination of values can be run; the first says: {0}")]
    NoneRuns(String),
}

/// Measures a scenario for each combination of values. Combinations that cannot be
/// run keep their row, with the reason.
///
/// # Errors
/// [`SweepError`]; a combination that cannot be run is one only if none can.
///
/// ```
/// use tidewright_study::sweep::{Measure, sweep};
/// use tidewright_study::Metric;
/// let scenario = tidewright_scenario::parse("demo", tidewright_scenario::DEMO)?;
/// let axis = "ventilator.cycling_pressure_cmh2o=8,10,12".parse()?;
/// let sweep = sweep(&scenario, &[axis], Measure::Settled)?;
/// let volume = &sweep.curves(Metric::InspiredTidalVolume)[0].points;
/// assert!(volume[0].1 < volume[1].1 && volume[1].1 < volume[2].1);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn sweep(scenario: &Scenario, axes: &[Axis], measure: Measure) -> Result<Sweep, SweepError> {
    sweep_while(scenario, axes, measure, || true)
}

/// The same, until `go_on`, asked before each combination, says no: then the rows are of
/// those that were measured, in order, and [`Sweep::left`] counts the others.
///
/// # Errors
/// As [`sweep`].
///
/// ```
/// use tidewright_study::sweep::{Measure, sweep_while};
/// let scenario = tidewright_scenario::parse("demo", tidewright_scenario::DEMO)?;
/// let axis = "ventilator.cycling_pressure_cmh2o=8,10,12".parse()?;
/// let sweep = sweep_while(&scenario, &[axis], Measure::Settled, || false)?;
/// assert!(sweep.rows.is_empty() && sweep.left == 3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn sweep_while(
    scenario: &Scenario,
    axes: &[Axis],
    measure: Measure,
    go_on: impl Fn() -> bool + Sync,
) -> Result<Sweep, SweepError> {
    if !(1..=2).contains(&axes.len()) {
        return Err(SweepError::Fields(axes.len()));
    }
    if let [a, b] = axes
        && a.field == b.field
    {
        return Err(SweepError::Twice(a.field.to_string()));
    }
    let count = axes.iter().map(|axis| axis.values.len()).fold(1, usize::saturating_mul);
    if count > MOST_POINTS {
        return Err(SweepError::TooMany(count));
    }
    let points = combinations(axes);
    // In parallel, and in order: rayon collects by index.
    let measured: Vec<Option<Vec<Row>>> = points
        .par_iter()
        .map(|values| go_on().then(|| point(scenario, axes, values, measure)))
        .collect();
    let left = measured.iter().filter(|rows| rows.is_none()).count();
    let rows: Vec<Row> = measured.into_iter().flatten().flatten().collect();
    if left == 0 && rows.iter().all(|row| row.breath.is_err()) {
        let first = rows.first().and_then(|row| row.breath.clone().err());
        return Err(SweepError::NoneRuns(
            first.unwrap_or_else(|| "there are no values".to_owned()),
        ));
    }
    Ok(Sweep { fields: axes.iter().map(|axis| axis.field.clone()).collect(), rows, left })
}

fn combinations(axes: &[Axis]) -> Vec<Vec<f64>> {
    axes.iter().fold(vec![Vec::new()], |points, axis| {
        let longer =
            |point: Vec<f64>| axis.values.iter().map(move |&value| [&point[..], &[value]].concat());
        points.into_iter().flat_map(longer).collect()
    })
}

fn point(scenario: &Scenario, axes: &[Axis], values: &[f64], measure: Measure) -> Vec<Row> {
    let fields: Vec<_> = axes.iter().map(|axis| &axis.field).zip(values.iter().copied()).collect();
    let weight = Mass::kg(scenario.patient.weight_kg);
    let row = |weight, breath| Row { values: values.to_vec(), weight, breath };
    match set_all(scenario, &fields) {
        Err(error) => vec![row(weight, Err(error.to_string()))],
        Ok(scenario) => {
            let weight = Mass::kg(scenario.patient.weight_kg);
            match measured(&scenario, measure) {
                Ok(breaths) => breaths.into_iter().map(|breath| row(weight, Ok(breath))).collect(),
                Err(reason) => vec![row(weight, Err(reason))],
            }
        }
    }
}

fn measured(scenario: &Scenario, measure: Measure) -> Result<Vec<Breath>, String> {
    let say = |error: &dyn std::error::Error| error.to_string();
    let protocol = scenario.protocol();
    match measure {
        Measure::Settled => {
            if scenario.begins_with_drive() {
                return Err(say(&SteadyError::Effort));
            }
            let machine = Machine::new(protocol.start).map_err(|error| say(&error))?;
            Ok(vec![periodic(&machine).map_err(|error| say(&error))?.breath])
        }
        Measure::First(count) => {
            let simulation = Simulation::new(&protocol).map_err(|error| say(&error))?;
            let mut meter = BreathMeter::default();
            let mut breaths = Vec::new();
            for together in scenario.coupled(&simulation).map_err(|error| say(&error))? {
                breaths.extend(meter.take(&together.map_err(|error| say(&error))?.stretch));
                if breaths.len() >= count as usize {
                    break;
                }
            }
            if breaths.is_empty() { Err("no breath is finished".to_owned()) } else { Ok(breaths) }
        }
    }
}

/// Values of one metric along a field: data of a family of curves.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// The value of the other field, where two are swept.
    pub at: Option<f64>,
    /// (value of the field along the curve, value of the metric); combinations
    /// without a breath are left out.
    pub points: Vec<(f64, f64)>,
}

/// Values of one metric over two fields: data of a map.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid {
    /// Values of the first field.
    pub rows: Vec<f64>,
    /// Values of the second field.
    pub columns: Vec<f64>,
    /// Row by row; `None` where a combination has no breath.
    pub cells: Vec<Vec<Option<f64>>>,
}

impl Sweep {
    /// One curve along the last field for each value of the first, or the only one.
    /// Where more breaths than one are measured, the last of each counts.
    #[must_use]
    pub fn curves(&self, metric: Metric) -> Vec<Curve> {
        let mut curves: Vec<Curve> = Vec::new();
        for row in self.last_rows() {
            let (at, x) = match row.values[..] {
                [x] => (None, x),
                [at, x] => (Some(at), x),
                _ => continue,
            };
            if curves.last().is_none_or(|curve| curve.at != at) {
                curves.push(Curve { at, points: Vec::new() });
            }
            if let (Some(curve), Ok(breath)) = (curves.last_mut(), &row.breath) {
                curve.points.push((x, metric.of(breath, row.weight)));
            }
        }
        curves
    }

    /// The metric over both fields; `None` if only one is swept.
    #[must_use]
    pub fn grid(&self, metric: Metric) -> Option<Grid> {
        if self.fields.len() != 2 {
            return None;
        }
        let mut grid = Grid { rows: Vec::new(), columns: Vec::new(), cells: Vec::new() };
        for row in self.last_rows() {
            let [at, x] = row.values[..] else { continue };
            if grid.rows.last() != Some(&at) {
                grid.rows.push(at);
                grid.cells.push(Vec::new());
            }
            if grid.rows.len() == 1 {
                grid.columns.push(x);
            }
            let value = row.breath.as_ref().ok().map(|breath| metric.of(breath, row.weight));
            grid.cells.last_mut()?.push(value);
        }
        Some(grid)
    }

    /// The last row of each combination.
    fn last_rows(&self) -> impl Iterator<Item = &Row> {
        let next = self.rows.iter().skip(1).map(Some).chain([None]);
        let ends = |(row, next): (&Row, Option<&Row>)| {
            let counts = |row: &Row| row.breath.as_ref().map_or(0, |breath| breath.number);
            next.is_none_or(|next| next.values != row.values || counts(next) <= counts(row))
        };
        self.rows.iter().zip(next).filter(move |&(row, next)| ends((row, next))).map(|(row, _)| row)
    }

    /// Writes the rows as comma-separated values, one breath each: the fields by
    /// their paths, `breath` (its number), `ended_by`, every [`Metric`], and
    /// `problem`, the reason where there is no breath. Numbers are in full precision.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_csv(&self, out: impl Write) -> io::Result<()> {
        let mut table = Table::new(out);
        for field in &self.fields {
            table.text(field.path())?;
        }
        table.texts(&["breath", "ended_by"])?;
        table.texts(&Metric::ALL.map(Metric::name))?;
        table.texts(&["problem", CSV_CAUTION])?;
        table.end_row()?;
        for row in &self.rows {
            for &value in &row.values {
                table.number(value)?;
            }
            match &row.breath {
                Ok(breath) => {
                    table.whole(breath.number)?;
                    table.text(ended_by(breath.ended_by))?;
                    for metric in Metric::ALL {
                        table.number(metric.of(breath, row.weight))?;
                    }
                    table.texts(&["", ""])?;
                }
                Err(problem) => {
                    table.texts(&[""; 2 + Metric::ALL.len()])?;
                    table.texts(&[problem, ""])?;
                }
            }
            table.end_row()?;
        }
        table.finish()
    }
}
