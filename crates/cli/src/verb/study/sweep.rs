//! `tidewright sweep`: one or two fields of a scenario over many values.

use std::path::{Path, PathBuf};

use clap::Args;
use tidewright_study::sweep::{self, Axis, Measure, SweepError};
use tidewright_study::{CAUTION, Field, Metric, ended_by};

use crate::exit::Exit;
use crate::figure::FigureFiles;
use crate::files::draft::{self, Draft};
use crate::files::input::{self, STANDARD, shown};
use crate::files::problem::Problem;
use crate::files::stop::{self, Keeping};
use crate::files::{output, partial, room};
use crate::page::{Align, Page};
use crate::sweep_figure;

/// Measure the breath over values of one or two fields
///
/// Each combination of values is a scenario of its own, checked as a file is. What
/// is measured is the breath that its settings at the start settle to, found
/// directly and not by waiting; or, with --breaths, the first breaths of its run.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Sweep {
    /// Scenario file, RON or JSON; - reads standard input
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// A field and its values: PATH=1,2,3 or PATH=FROM..TO:STEP; once or twice
    #[arg(long, value_name = "FIELD", required = true)]
    over: Vec<Axis>,

    /// Measure so many first breaths of each run instead of the settled one
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    breaths: Option<u32>,

    /// A measure for table and figure; up to four times
    /// [default: inspired_tidal_volume_ml, and three more where there is room]
    #[arg(long, value_name = "MEASURE")]
    show: Vec<Metric>,

    /// Write a row for each breath, every measure, as comma-separated values; - is
    /// standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,

    #[command(flatten)]
    figure: FigureFiles,
}

const EXAMPLES: &str = "\
Examples:
  tidewright sweep first.ron --over ventilator.fresh_gas_flow_l_min=0.5..3:0.1
  tidewright sweep first.ron --over ventilator.expiratory_time_s=0.3..2:0.1 --csv te.csv
  tidewright sweep first.ron --over patient.lung.compliance_ml_cmh2o=2.5,5 \\
      --over ventilator.cycling_pressure_cmh2o=6..16:0.5 --figure family.svg
  tidewright sweep first.ron --over ventilator.cycling_pressure_cmh2o=6..16:0.5 \\
      --over ventilator.fresh_gas_flow_l_min=0.5..3:0.1 --figure map.png

A field is named by its path in the file, such as ventilator.expiratory_time_s,
patient.weight_kg or timeline.0.at_s; `tidewright reference` lists them. With two
fields, the first makes the curves and the second runs along the axis; more than
four curves become a map of one measure.";

/// Shown in a family of curves and in the table.
const USUAL: [Metric; 4] =
    [Metric::InspiredTidalVolume, Metric::InspiratoryTime, Metric::Rate, Metric::PeakPressure];
/// Most rows: some 2 GB of memory.
const MOST_ROWS: usize = 5_000_000;
/// What a row takes in memory, and about the same in a file.
const ROW_BYTES: u64 = 400;
/// Longest table that a person would read.
const MOST_LINES: usize = 60;
/// A map of one measure takes the place of more curves than this.
const MOST_CURVES: usize = 4;

impl Sweep {
    /// Sweeps, writes and prints.
    pub fn perform(self) -> Result<Exit, Problem> {
        let scenario = input::scenario(&self.scenario)?;
        let targets = self.csv.iter().chain(self.figure.paths());
        let unfinished =
            self.csv.as_deref().filter(|csv| partial::can_be(csv)).map(partial::beside);
        draft::check(targets.chain(&unfinished))?;
        let combinations: usize = self.over.iter().map(|axis| axis.values.len()).product();
        let rows = combinations.saturating_mul(self.breaths.unwrap_or(1) as usize);
        if rows > MOST_ROWS {
            return Err(Problem::usage(
                format!("the sweep could have {rows} rows, and may have {MOST_ROWS}"),
                "take fewer values, or fewer breaths",
            ));
        }
        let bytes = rows as u64 * ROW_BYTES;
        room::in_memory(&format!("{rows} rows"), bytes, "take fewer values, or fewer breaths")?;
        if let Some(csv) = &self.csv {
            room::on_disk(csv, bytes, "take fewer values, or fewer breaths")?;
        }
        output::beforehand(rows as u64, 20_000, || format!("{combinations} combinations."));
        let keeping = Keeping::begin();
        let waiting = output::waiting("measuring");
        let measure = self.breaths.map_or(Measure::Settled, Measure::First);
        let go_on = || stop::asked().is_none();
        let sweep = sweep::sweep_while(&scenario, &self.over, measure, go_on);
        let sweep = sweep.map_err(|error| match error {
            SweepError::NoneRuns(_) => Problem::study(
                error.to_string(),
                "check paths and values against `tidewright reference`; a block that needs more \
                 than this number is written into the file first",
            ),
            error => Problem::usage(
                error.to_string(),
                "write --over once or twice, such as `--over ventilator.fresh_gas_flow_l_min=1,2`",
            ),
        })?;
        drop((waiting, keeping));
        if sweep.left > 0 {
            return self.stopped(&sweep, combinations, unfinished.as_deref());
        }
        // Drawn before anything is written, so that a fault leaves nothing behind.
        let figure = match self.figure.is_empty() {
            true => None,
            false => Some(sweep_figure::draw(&scenario, &sweep, &self.drawn())?),
        };
        if let Some(path) = &self.csv {
            let mut draft = Draft::begin(path)?;
            sweep.write_csv(&mut draft)?;
            draft.publish()?;
        }
        if let Some(figure) = &figure {
            self.figure.write(figure)?;
        }
        if self.csv.as_deref() != Some(Path::new(STANDARD)) {
            self.page(&sweep).print()?;
        }
        Ok(Exit::Done)
    }

    /// What was measured is kept beside the place of the whole.
    fn stopped(
        &self,
        sweep: &sweep::Sweep,
        combinations: usize,
        unfinished: Option<&Path>,
    ) -> Result<Exit, Problem> {
        let target = unfinished.or(self.csv.as_deref());
        if let Some(target) = target {
            let mut draft = Draft::begin(target)?;
            sweep.write_csv(&mut draft)?;
            draft.publish()?;
        }
        let kept = match target {
            Some(target) => format!("Their rows are in {}", shown(target)),
            None => "Nothing was written".to_owned(),
        };
        output::complain_in_words(&output::wrapped(&format!(
            "Stopped after {} of {combinations} combinations. {kept}; there is no figure.\n",
            combinations - sweep.left
        )));
        Ok(Exit::Stopped)
    }

    /// The measures of the figure: a map has room for one.
    fn drawn(&self) -> Vec<Metric> {
        let is_map = self.over.len() == 2 && self.over[0].values.len() > MOST_CURVES;
        match (self.show.is_empty(), is_map) {
            (true, true) => USUAL[..1].to_vec(),
            (true, false) => USUAL.to_vec(),
            (false, _) => self.show.clone(),
        }
    }

    fn page(&self, sweep: &sweep::Sweep) -> Page {
        let mut page = Page::new();
        let show = if self.show.is_empty() { &USUAL[..] } else { &self.show };
        for field in &sweep.fields {
            page.paragraph(&format!("{}: {}", field.label(), field.path()));
        }
        page.paragraph(match self.breaths {
            None => "The breath that each combination settles to:",
            Some(_) => "The first breaths of each run:",
        });
        page.gap();
        let names = sweep.fields.iter().map(Field::label);
        let names = names.chain(self.breaths.map(|_| "breath".to_owned()));
        let names = names.chain(show.iter().map(|m| format!("{} ({})", m.short(), m.unit().text)));
        let columns: Vec<_> = names
            .map(|name| (name, Align::Right))
            .chain([("ended by".to_owned(), Align::Left)])
            .collect();
        let rows: Vec<_> =
            sweep.rows.iter().take(MOST_LINES).map(|row| self.line(row, show)).collect();
        page.columns(&columns, &rows);
        if sweep.rows.len() > MOST_LINES {
            page.paragraph(&format!(
                "… and {} rows more: --csv FILE writes them all.",
                sweep.rows.len() - MOST_LINES
            ));
        }
        let problems = || sweep.rows.iter().filter_map(|row| row.breath.as_ref().err());
        if let Some(first) = problems().next() {
            let count = problems().count();
            page.warning(&format!(
                "{count} of {} rows have no breath; the first: {first}",
                sweep.rows.len()
            ));
        }
        page.gap();
        for file in self
            .csv
            .iter()
            .map(|path| ("Rows", path))
            .chain(self.figure.paths().map(|path| ("Figure", path)))
        {
            page.paragraph(&format!("{}: {}", file.0, shown(file.1)));
        }
        page.paragraph(CAUTION);
        page
    }

    fn line(&self, row: &sweep::Row, show: &[Metric]) -> Vec<String> {
        let mut line: Vec<String> = row.values.iter().map(ToString::to_string).collect();
        match &row.breath {
            Ok(breath) => {
                line.extend(self.breaths.map(|_| breath.number.to_string()));
                line.extend(show.iter().map(|m| format!("{:.2}", m.of(breath, row.weight))));
                line.push(ended_by(breath.ended_by).to_owned());
            }
            Err(_) => {
                line.extend(self.breaths.map(|_| "-".to_owned()));
                line.extend(show.iter().map(|_| "-".to_owned()));
                line.push("no breath".to_owned());
            }
        }
        line
    }
}
