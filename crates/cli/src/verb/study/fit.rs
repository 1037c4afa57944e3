//! `tidewright fit`: resistance and compliance from a recorded waveform.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

use clap::Args;
use tidewright_figures::{
    Chart, ChartCurve, ChartPanel, Figure, Heading, Line, Look, Measure, Piece,
};
use tidewright_study::fit::{self, Columns, Record};

use crate::exit::Exit;
use crate::figure::FigureFiles;
use crate::files::draft;
use crate::files::input::{self, STANDARD, shown};
use crate::files::output;
use crate::files::problem::Problem;
use crate::page::Page;

/// Find resistance and compliance from a recorded waveform
///
/// Fits pressure = volume / C + resistance × flow + baseline to the samples, with the
/// noise of every column in its place, and tells standard errors. Flow counts into the
/// patient. The volume is integrated from the flow where it has no column.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Fit {
    /// Waveform as comma-separated values, units in the first line; - reads standard input
    #[arg(value_name = "WAVEFORM")]
    waveform: PathBuf,

    /// The column of times
    #[arg(long, value_name = "NAME")]
    time: Option<String>,

    /// The column of pressures at the airway
    #[arg(long, value_name = "NAME")]
    pressure: Option<String>,

    /// The column of flows into the patient
    #[arg(long, value_name = "NAME")]
    flow: Option<String>,

    /// The column of volumes
    #[arg(long, value_name = "NAME", conflicts_with = "integrate")]
    volume: Option<String>,

    /// Integrate the flow even where the volume has a column
    #[arg(long)]
    integrate: bool,

    /// First time to use, in seconds
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true)]
    from: Option<f64>,

    /// Last time to use, in seconds
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true)]
    to: Option<f64>,

    /// Print one JSON object in full precision instead of the page
    #[arg(long)]
    json: bool,

    #[command(flatten)]
    figure: FigureFiles,
}

const EXAMPLES: &str = "\
Examples:
  tidewright fit first.csv
  tidewright fit recorded.csv --from 12 --to 30 --figure residual.svg
  tidewright fit recorded.csv --pressure \"Paw (mbar)\" --integrate --json

A waveform to try it on: `tidewright run first.ron --csv first.csv`. Columns are
found by the units in their names, such as t_s, airway_pressure_cmh2o or
Flow (L/min). Take whole breaths, expiration included: an inspiration of constant
flow cannot tell resistance from baseline.";

/// Most samples of a curve in the figure; a band would hide the residual.
const MOST_DRAWN: usize = 20_000;
/// A file so large is told of before it is read, bytes.
const MUCH: u64 = 50_000_000;

impl Fit {
    /// Reads, fits, prints and draws.
    pub fn perform(self) -> Result<Exit, Problem> {
        input::reads(&self.waveform);
        draft::check(self.figure.paths())?;
        let record = self.record()?;
        let _waiting = output::waiting("fitting");
        let fit = fit::fit(&record).map_err(|error| {
            Problem::study(
                format!("{}: {error}", shown(&self.waveform)),
                "choose the part with --from and --to, or record more",
            )
        })?;
        if !self.figure.is_empty() {
            self.figure.write(&drawn(&record, &fit)?)?;
        }
        if self.json {
            output::print(&format!("{:#}\n", fit::json(&fit)))?;
            return Ok(Exit::Done);
        }
        let mut page = Page::new();
        page.laid_out(&fit::text(&fit));
        for path in self.figure.paths() {
            page.paragraph(&format!("Figure: {}", shown(path)));
        }
        page.print()?;
        Ok(Exit::Done)
    }

    fn record(&self) -> Result<Record, Problem> {
        let columns = Columns {
            time: self.time.clone(),
            pressure: self.pressure.clone(),
            flow: self.flow.clone(),
            volume: self.volume.clone(),
            integrate: self.integrate,
        };
        let path: &Path = &self.waveform;
        let times_s = self.from.unwrap_or(f64::NEG_INFINITY)..=self.to.unwrap_or(f64::INFINITY);
        let unreadable = |error: io::Error| input::unreadable(path, &error);
        let record = if path == Path::new(STANDARD) {
            Record::read_part(io::stdin().lock(), &columns, times_s)
        } else {
            let file = File::open(path).map_err(unreadable)?;
            let size = file.metadata().map_or(0, |file| file.len());
            output::beforehand(size, MUCH, || {
                format!("Reading {} MB; --from and --to choose a part.", size / 1_000_000)
            });
            Record::read_part(file, &columns, times_s)
        };
        record.map_err(|error| match error {
            fit::RecordError::Read(error) => unreadable(error),
            error @ fit::RecordError::NoneWithin { .. } => {
                Problem::usage(error.to_string(), "choose times within it")
            }
            error @ fit::RecordError::TooMany => {
                Problem::study(format!("{}: {error}", shown(path)), "a minute is plenty")
            }
            error => Problem::study(
                format!("{} is no waveform: {error}", shown(path)),
                "a waveform has a line of names with units, then a line of numbers for each time",
            ),
        })
    }
}

/// Pressure with the fit, and what is left of it.
fn drawn(record: &Record, fit: &fit::Fit) -> Result<Figure, Problem> {
    if record.time_s.len() > MOST_DRAWN {
        return Err(Problem::usage(
            format!("{} samples are too many for a figure", record.time_s.len()),
            "choose a shorter part with --from and --to",
        ));
    }
    let curve = |label: &str, line: Line, values: &mut dyn Iterator<Item = f64>| {
        let piece: Piece = record.time_s.iter().copied().zip(values).collect();
        ChartCurve { label: label.to_owned(), line, pieces: vec![piece] }
    };
    let measured = || record.pressure_cmh2o.iter().copied();
    let fitted = || measured().zip(&fit.residual_cmh2o).map(|(p, r)| p - r);
    let pressure = Measure {
        key: "airway-pressure",
        name: "Airway pressure",
        short: "Pressure",
        unit: "cmH₂O",
        suffix: "cmh2o",
    };
    let residual =
        Measure { key: "residual", name: "Measured − fitted", short: "Residual", ..pressure };
    let estimates = &fit.refined;
    let subtitle = format!(
        "R {:.2} cmH₂O·s/L, C {:.3} mL/cmH₂O, baseline {:.2} cmH₂O",
        estimates.resistance_cmh2o_s_l.value,
        estimates.compliance_ml_cmh2o.value,
        estimates.baseline_cmh2o.value
    );
    let chart = Chart {
        heading: Heading {
            id: "fit",
            title: "What the equation of motion explains, and what is left",
            subtitle: &subtitle,
        },
        along: "Time (s)".to_owned(),
        panels: vec![
            ChartPanel {
                measure: pressure,
                curves: vec![
                    curve("measured", Line::Behind, &mut measured()),
                    curve("fitted", Line::Family(0), &mut fitted()),
                ],
            },
            ChartPanel {
                measure: residual,
                curves: vec![curve(
                    "residual",
                    Line::Family(3),
                    &mut fit.residual_cmh2o.iter().copied(),
                )],
            },
        ],
    };
    Ok(chart.figure(&Look::PAGE)?)
}
