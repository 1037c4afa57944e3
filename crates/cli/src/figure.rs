//! Figures of a run: what part of it, into which file.

use std::ops::Range;
use std::path::{Path, PathBuf};

use clap::Args;
use clap::builder::{PathBufValueParser, TypedValueParser};
use tidewright_figures::{Figure, FigureError, RunFigure, RunFigureError, part_of_run};
use tidewright_scenario::Scenario;

use crate::files::draft;
use crate::files::problem::Problem;

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
    pub fn is_svg(&self) -> bool {
        matches!(self.kind, Kind::Svg)
    }

    /// The file of one of several pictures: `leak.svg` becomes `leak-1.svg`.
    pub fn numbered(&self, number: usize) -> Self {
        let stem = self.path.file_stem().unwrap_or_default().to_string_lossy();
        let ending = self.path.extension().unwrap_or_default().to_string_lossy();
        let path = self.path.with_file_name(format!("{stem}-{number}.{ending}"));
        Self { path, kind: self.kind }
    }

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
            draft::write(&file.path, &bytes)?;
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
    Ok(part_of_run(from, to, run_s)?)
}

/// The figure of a whole run.
pub fn of_run(scenario: &Scenario, name: &str) -> Result<Figure, Problem> {
    RunFigure::whole(scenario).map_err(|error| match error {
        RunFigureError::Run(source) => Problem::run(name, source),
        error => error.into(),
    })
}

/// Of a run whose name is not known here.
impl From<RunFigureError> for Problem {
    fn from(error: RunFigureError) -> Self {
        match error {
            RunFigureError::NoPart { from_s, to_s, run_s } => Self::usage(
                format!("a figure from {from_s} to {to_s} s is not a part of the run"),
                format!("the run lasts from 0 to {run_s} s: write --from and --to within it"),
            ),
            RunFigureError::Overfull => {
                Self::usage(error.to_string(), "choose a shorter part with --from and --to")
            }
            RunFigureError::Run(source) => Self::run("the scenario", source),
            RunFigureError::Figure(source) => source.into(),
        }
    }
}
