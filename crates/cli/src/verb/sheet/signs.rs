//! `tidewright signs`: what each fault shows, as a table or a wall chart.

use std::path::{Path, PathBuf};

use clap::builder::{PathBufValueParser, TypedValueParser};
use clap::{Args, ValueEnum};
use tidewright::fault::signs_table;
use tidewright_figures::{ChartPaper, SignsChart};

use crate::exit::Exit;
use crate::files::draft;
use crate::files::output;
use crate::files::problem::Problem;

/// Show what each fault does to a breath of a cat of 4 kg
///
/// Prints a Markdown table; with --out a wall chart is drawn instead, with a breath of
/// each fault beside its numbers.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Signs {
    /// Wall chart; ends in .svg, .png, .pdf or .html; may be given more than once
    #[arg(long, value_name = "FILE", value_parser = chart_parser())]
    out: Vec<ChartFile>,

    /// Size of the paper, landscape, for PDF and HTML
    #[arg(long, value_name = "PAPER", default_value = "a3", requires = "out")]
    paper: Size,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Size {
    /// 420 by 297 mm
    A3,
    /// 297 by 210 mm
    A4,
    /// 11 by 8.5 inches; speaks of a veterinarian
    Letter,
    /// 594 by 420 mm
    A2,
    /// 841 by 594 mm, to be read from where one works
    A1,
}

#[derive(Clone, Debug)]
struct ChartFile {
    path: PathBuf,
    kind: Kind,
}

#[derive(Clone, Copy, Debug)]
enum Kind {
    Svg,
    Png,
    Pdf,
    Html,
}

/// Good for print, and for a screen.
const DPI: f64 = 150.0;

const EXAMPLES: &str = "\
Examples:
  tidewright signs
  tidewright signs > signs.md
  tidewright signs --out chart.pdf
  tidewright signs --out chart.html --paper a4";

const ABOVE: &str = "\
# What each fault shows

A simulated cat of 4 kg: 4.8 mL/cmH2O, 30 cmH2O·s/L with its tube, 2 L/min of fresh gas, cycling
pressure 10 cmH2O, inspiratory time limit and expiratory time 2.5 s. Each row is a breath 80 s after
the fault came at once; arrows are against the healthy breath in the first row. VTi and VTe are what
a spirometer at the patient connection counts. A patient that breathes, coughs or braces against the
ventilator makes no two breaths alike, and has no row. Where pressure does not fall, take the patient
off first. Never flush into a connected small patient. Where air may be under tension in the chest,
stop or give the least, and call.

";

const BELOW: &str = "
For teaching only. Not a medical device. Simulated animals and equipment: real ones differ. Do not
use for decisions about a patient. Follow the veterinary surgeon in charge, local law, your workplace
rules and the instructions of the equipment in front of you.
";

fn chart_parser() -> impl TypedValueParser<Value = ChartFile> {
    PathBufValueParser::new().try_map(|path| match kind(&path) {
        Some(kind) => Ok(ChartFile { path, kind }),
        None => Err("a chart's file name ends in .svg, .png, .pdf or .html"),
    })
}

fn kind(path: &Path) -> Option<Kind> {
    match path.extension()?.to_str()?.to_ascii_lowercase().as_str() {
        "svg" => Some(Kind::Svg),
        "png" => Some(Kind::Png),
        "pdf" => Some(Kind::Pdf),
        "html" => Some(Kind::Html),
        _ => None,
    }
}

impl Signs {
    /// Prints the table, or draws the chart.
    pub fn perform(self) -> Result<Exit, Problem> {
        if self.out.is_empty() {
            output::print(&format!("{ABOVE}{}{BELOW}", signs_table()))?;
            return Ok(Exit::Done);
        }
        draft::check(self.out.iter().map(|out| &out.path))?;
        let _waiting = output::waiting("drawing");
        let chart = SignsChart::new()
            .map_err(|source| Problem::FigureFile { file: "the wall chart".to_owned(), source })?;
        let paper = match self.paper {
            Size::A3 => ChartPaper::A3,
            Size::A4 => ChartPaper::A4,
            Size::Letter => ChartPaper::Letter,
            Size::A2 => ChartPaper::A2,
            Size::A1 => ChartPaper::A1,
        };
        for out in &self.out {
            let bytes = match out.kind {
                Kind::Svg => chart.to_svg().into_bytes(),
                Kind::Png => chart.to_png(DPI)?,
                Kind::Pdf => chart.to_pdf(paper)?,
                Kind::Html => chart.to_html(paper).into_bytes(),
            };
            draft::write(&out.path, &bytes)?;
        }
        Ok(Exit::Done)
    }
}
