//! Figures of a run: what part of it, into which file.

use std::io::Write as _;
use std::ops::Range;
use std::path::{Path, PathBuf};

use clap::Args;
use clap::builder::{PathBufValueParser, TypedValueParser};
use tidewright::coupled::GasPoint;
use tidewright::run::{Simulation, Stretch};
use tidewright::trace::Trace;
use tidewright_figures::{Event, Figure, FigureError, Look, Waveforms};
use tidewright_scenario::Scenario;
use tidewright_scenario::report::{self, Happening};

use crate::draft::Draft;
use crate::problem::Problem;

/// Most stretches that a figure shows; more would be a solid block of ink.
const MOST_STRETCHES: usize = 20_000;

/// A figure file, its kind told by its ending.
#[derive(Clone, Debug)]
pub struct FigureFile {
    pub path: PathBuf,
    kind: Kind,
}

#[derive(Clone, Copy, Debug)]
enum Kind {
    Svg,
    Png,
    Pdf,
    Csv,
}

impl FigureFile {
    /// What belongs in the file.
    pub fn bytes(&self, figure: &Figure, dpi: f64) -> Result<Vec<u8>, FigureError> {
        match self.kind {
            Kind::Svg => Ok(figure.to_svg().into_bytes()),
            Kind::Png => figure.to_png(dpi),
            Kind::Pdf => figure.to_pdf(),
            Kind::Csv => Ok(figure.to_csv().as_bytes().to_vec()),
        }
    }
}

/// Where the figure of a study goes.
#[derive(Debug, Args)]
pub struct FigureFiles {
    /// Draw it as FILE.svg or FILE.png; FILE.csv has its numbers; may be given again
    #[arg(long, value_name = "FILE", value_parser = file_parser())]
    figure: Vec<FigureFile>,

    /// Pixels per inch of a PNG
    #[arg(long, value_name = "DPI", default_value = "300", requires = "figure", value_parser = dpi, allow_negative_numbers = true)]
    dpi: f64,
}

impl FigureFiles {
    /// Whether none is wanted.
    pub fn is_empty(&self) -> bool {
        self.figure.is_empty()
    }

    /// Their names.
    pub fn paths(&self) -> impl Iterator<Item = &PathBuf> {
        self.figure.iter().map(|file| &file.path)
    }

    /// Writes them all.
    pub fn write(&self, figure: &Figure) -> Result<(), Problem> {
        for file in &self.figure {
            let bytes = file.bytes(figure, self.dpi)?;
            let mut draft = Draft::begin(&file.path)?;
            draft.write_all(&bytes)?;
            draft.publish()?;
        }
        Ok(())
    }
}

/// Reads the name of a figure file.
pub fn file_parser() -> impl TypedValueParser<Value = FigureFile> {
    PathBufValueParser::new().try_map(|path| match kind(&path) {
        Some(kind) => Ok(FigureFile { path, kind }),
        None => Err("a figure's file name ends in .svg, .png, .pdf or .csv"),
    })
}

fn kind(path: &Path) -> Option<Kind> {
    match path.extension()?.to_str()?.to_ascii_lowercase().as_str() {
        "svg" => Some(Kind::Svg),
        "png" => Some(Kind::Png),
        "pdf" => Some(Kind::Pdf),
        "csv" => Some(Kind::Csv),
        _ => None,
    }
}

/// Reads the resolution of a PNG.
pub fn dpi(text: &str) -> Result<f64, String> {
    let dpi: f64 = text.parse().map_err(|_| "write a number, such as 300".to_owned())?;
    if (24.0..=1200.0).contains(&dpi) {
        return Ok(dpi);
    }
    Err("write 24 to 1200; 300 is good for print".to_owned())
}

/// The part of a run that a figure shows, s.
pub fn window(from: Option<f64>, to: Option<f64>, run_s: f64) -> Result<Range<f64>, Problem> {
    let (start_s, end_s) = (from.unwrap_or(0.0), to.unwrap_or(run_s));
    if !(0.0 <= start_s && end_s <= run_s && end_s - start_s >= 1e-3) {
        return Err(Problem::usage(
            format!("a figure from {start_s} to {end_s} s is not a part of the run"),
            format!("the run lasts from 0 to {run_s} s: write --from and --to within it"),
        ));
    }
    Ok(start_s..end_s)
}

/// Keeps what a figure needs while the run goes on.
#[derive(Debug)]
pub struct Window<'a> {
    window_s: Range<f64>,
    wanted: bool,
    stretches: Vec<Stretch<'a>>,
    gas: Vec<GasPoint>,
    overfull: bool,
}

impl<'a> Window<'a> {
    /// Keeps nothing unless a figure is wanted.
    pub fn new(window_s: Range<f64>, wanted: bool) -> Self {
        Self { window_s, wanted, stretches: Vec::new(), gas: Vec::new(), overfull: false }
    }

    /// Takes the next stretch, and what the gas did along it.
    pub fn take(&mut self, stretch: &Stretch<'a>, gas: &[GasPoint]) {
        let piece = &stretch.piece;
        if !self.wanted || piece.end_s() < self.window_s.start || piece.start_s > self.window_s.end
        {
            return;
        }
        if self.stretches.len() < MOST_STRETCHES {
            self.stretches.push(stretch.clone());
            self.gas.extend_from_slice(gas);
        } else {
            self.overfull = true;
        }
    }

    /// Draws the figure.
    pub fn figure(self, scenario: &Scenario) -> Result<Figure, Problem> {
        if self.overfull {
            return Err(Problem::usage(
                "this part of the run has too many breaths for a figure",
                "choose a shorter part with --from and --to",
            ));
        }
        let waveforms = Waveforms {
            id: scenario.id.to_string(),
            title: scenario.title.clone().unwrap_or_else(|| scenario.id.to_string()),
            subtitle: Some(report::patient(scenario)),
            events: events(scenario),
            ..Waveforms::from_run(&Trace { stretches: self.stretches }, self.window_s)
                .with_gas(&self.gas)
        };
        Ok(waveforms.figure(&Look::PAGE)?)
    }
}

/// The figure of a whole run.
pub fn of_run(scenario: &Scenario, name: &str) -> Result<Figure, Problem> {
    let wrong = |source| Problem::run(name, source);
    let simulation = Simulation::new(&scenario.protocol()).map_err(|e| wrong(e.into()))?;
    let mut window = Window::new(0.0..scenario.duration_s, true);
    report::watch(scenario, &simulation, |progress| {
        window.take(progress.stretch, progress.gas.map_or(&[], |gas| &gas.points));
        Ok(())
    })
    .map_err(wrong)?;
    window.figure(scenario)
}

/// What happens in the run, at one time in one label.
fn events(scenario: &Scenario) -> Vec<Event> {
    let mut events: Vec<Event> = Vec::new();
    for Happening { at_s, label, .. } in report::happenings(scenario) {
        match events.last_mut() {
            Some(last) if last.at_s == at_s => last.label += &format!("; {label}"),
            _ => events.push(Event { at_s, label }),
        }
    }
    events
}
