//! `tidewright run`: one scenario, and whatever is wanted of it in one pass.

use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use tidewright::Solver;
use tidewright::run::Simulation;
use tidewright_figures::RunFigure;
use tidewright_scenario::Scenario;
use tidewright_scenario::report::{self, CsvWaveform, FASTEST_SAMPLING_PER_S, JsonReport, Table};

use crate::exit::Exit;
use crate::figure::FigureFile;
use crate::files::draft::{self, Draft};
use crate::files::input::{self, STANDARD, shown};
use crate::files::problem::Problem;
use crate::files::{output, room};
use crate::{figure, run_page};

/// Run a scenario and report its breaths
///
/// Prints a table of breaths and what happened in words. With --json, standard
/// output holds one JSON object and nothing else. A waveform file and figures
/// may be written in the same run; a file appears only when it is complete.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Run {
    /// Scenario file, RON or JSON; - reads standard input
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Write one JSON object to standard output instead of the table
    #[arg(long)]
    json: bool,

    /// Write the waveform as comma-separated values; - writes it to standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,

    /// Rows of the waveform for each second
    #[arg(long, value_name = "HZ", default_value = "100", requires = "csv", value_parser = rate, allow_negative_numbers = true)]
    rate: f64,

    /// Draw pressure, flow, volume and (with gas exchange) the capnogram as FILE.svg or
    /// FILE.png; may be given again
    #[arg(long, value_name = "FILE", value_parser = figure::file_parser())]
    figure: Vec<FigureFile>,

    /// Pixels per inch of a PNG
    #[arg(long, value_name = "DPI", default_value = "300", requires = "figure", value_parser = figure::dpi, allow_negative_numbers = true)]
    dpi: f64,

    /// Start of the figure, in seconds of the run [default: 0]
    #[arg(long, value_name = "SECONDS", requires = "figure", allow_negative_numbers = true)]
    from: Option<f64>,

    /// End of the figure, in seconds of the run [default: its end]
    #[arg(long, value_name = "SECONDS", requires = "figure", allow_negative_numbers = true)]
    to: Option<f64>,

    /// How the equations are solved
    #[arg(long, value_enum, default_value_t)]
    solver: Road,
}

const EXAMPLES: &str = "\
Examples:
  tidewright run first.ron
  tidewright run first.ron --json > first.json
  tidewright run first.ron --csv first.csv --rate 200 --figure first.svg
  tidewright run first.ron --figure leak.png --from 25 --to 40
  tidewright example | tidewright run -

Volumes in the table are changes of lung volume. Baseline and alveolar are the
pressures at the end of expiration, at the airway and in the lung: where the
lung's is higher, gas is trapped. With gas exchange (`gas: ()` in the scenario)
the table shows end-tidal, inspired and arterial carbon dioxide and the
saturation; `own` marks breaths of the patient while the ventilator stands by,
with their volumes at the patient connection.";

/// Most rows of a waveform: some 10 GB.
const MOST_ROWS: f64 = 1e8;
/// Length of a row, about.
const ROW_BYTES: f64 = 150.0;

/// How the equations are solved.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum Road {
    /// By closed forms where the parts are linear, in steps elsewhere
    #[default]
    Auto,
    /// In steps everywhere, to compare
    Numeric,
    /// By an independent general method: slow, to compare
    Reference,
}

impl Run {
    /// Runs the scenario.
    pub fn perform(self) -> Result<Exit, Problem> {
        let scenario = input::scenario(&self.scenario)?;
        self.check_targets()?;
        self.check_rows(&scenario)?;
        let window_s = figure::window(self.from, self.to, scenario.duration_s)?;
        let wrong = |source| Problem::run(&shown(&self.scenario), source);

        let mut csv_file = self.csv.as_deref().map(Draft::begin).transpose()?;
        let figure_files = self.figure.iter().map(|file| Draft::begin(&file.path));
        let figure_files = figure_files.collect::<Result<Vec<_>, _>>()?;
        let begin_csv = |file| CsvWaveform::begin(file, &scenario, self.rate);
        let mut csv = csv_file.as_mut().map(begin_csv).transpose()?;
        let out = self.json.then(|| BufWriter::new(output::stdout()));
        let mut json = out.map(|out| JsonReport::begin(out, &scenario)).transpose()?;
        let mut table = Table::new(&scenario);
        let mut window = (!self.figure.is_empty()).then(|| RunFigure::of(window_s));

        let simulation = Simulation::with_solver(&scenario.protocol(), self.solver.into())
            .map_err(|error| wrong(error.into()))?;
        let waiting = output::waiting("running");
        let ending = report::watch(&scenario, &simulation, |progress| {
            if let Some(window) = &mut window {
                window.take(progress.stretch, progress.gas.map_or(&[], |gas| &gas.points));
            }
            table.progress(progress);
            if let Some(csv) = &mut csv {
                csv.progress(progress)?;
            }
            json.as_mut().map_or(Ok(()), |json| json.progress(progress))
        })
        .map_err(wrong)?;

        drop(waiting);
        json.map_or(Ok(()), |json| json.end(&ending))?;
        csv.map_or(Ok(()), CsvWaveform::end)?;
        csv_file.map_or(Ok(()), Draft::publish)?;
        if let Some(window) = window {
            let figure = window.draw(&scenario)?;
            for (file, mut draft) in self.figure.iter().zip(figure_files) {
                draft.write_all(&file.bytes(&figure, self.dpi)?)?;
                draft.publish()?;
            }
        }
        if !self.writes_to_stdout() {
            run_page::page(&scenario, &table, &ending, &self.files_written()).print()?;
        }
        Ok(Exit::Done)
    }

    /// Whether standard output is taken, so that no table may go there.
    fn writes_to_stdout(&self) -> bool {
        self.json || self.csv.as_deref() == Some(Path::new(STANDARD))
    }

    fn files_written(&self) -> Vec<String> {
        let csv = self
            .csv
            .iter()
            .map(|file| format!("Waveform, {} rows a second: {}", self.rate, shown(file)));
        let figures = self.figure.iter().map(|file| format!("Figure: {}", shown(&file.path)));
        csv.chain(figures).collect()
    }

    fn check_rows(&self, scenario: &Scenario) -> Result<(), Problem> {
        let rows = scenario.duration_s * self.rate;
        if self.csv.is_some() && rows > MOST_ROWS {
            return Err(Problem::usage(
                format!("the waveform would have {rows:.0} rows, and may have {MOST_ROWS:.0}"),
                format!("write `--rate {}` or less", (MOST_ROWS / scenario.duration_s).floor()),
            ));
        }
        if let Some(csv) = &self.csv {
            let bytes = (rows * ROW_BYTES) as u64;
            room::on_disk(csv, bytes, "lower `--rate`")?;
            output::beforehand(rows as u64, 2_000_000, || {
                format!("The waveform will have {rows:.0} rows, some {}.", room::size(bytes))
            });
        }
        Ok(())
    }

    /// What is written must have a place of its own.
    fn check_targets(&self) -> Result<(), Problem> {
        if self.json && self.csv.as_deref() == Some(Path::new(STANDARD)) {
            return Err(Problem::usage(
                "the JSON report and the waveform cannot both go to standard output",
                "give the waveform a file, such as `--csv waveform.csv`",
            ));
        }
        draft::check(self.csv.iter().chain(self.figure.iter().map(|file| &file.path)))
    }
}

impl From<Road> for Solver {
    fn from(road: Road) -> Self {
        match road {
            Road::Auto => Self::Auto,
            Road::Numeric => Self::Numeric,
            Road::Reference => Self::Reference,
        }
    }
}

fn rate(text: &str) -> Result<f64, String> {
    let rate: f64 = text.parse().map_err(|_| "write a number of rows, such as 100".to_owned())?;
    if rate > 0.0 && rate <= FASTEST_SAMPLING_PER_S {
        return Ok(rate);
    }
    Err(format!("write a rate above 0 and at most {FASTEST_SAMPLING_PER_S}"))
}
