//! Figures, runs and hand-outs, the same bytes as the program writes.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde::Deserialize;
use serde_json::{Value, json};
use tidewright::run::Simulation;
use tidewright_figures::{
    ChartPaper, Figure, FigureFile, Handout, Paper, RunFigure, Sheets, SignsChart, Version,
};
use tidewright_scenario::Scenario;
use tidewright_scenario::report::{self, Fitted, JsonReport, Part, Table};

use crate::texts::Which;
use crate::wrong::Wrong;

/// A kind of file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    Svg,
    Png,
    Pdf,
    Csv,
    Html,
}

/// Who a figure is for.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reader {
    Teacher,
    Student,
}

/// Size of paper.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Size {
    A4,
    Letter,
}

/// Resolution of a PNG where none is asked for: good for print, as in the program.
const DPI: f64 = 300.0;
/// Characters of a line in which the table of a run stands.
const TABLE_WIDTH: usize = 120;

/// Bytes as an answer can hold them.
fn file(name: &str, kind: Kind, bytes: &[u8]) -> Value {
    let (ending, media) = match kind {
        Kind::Svg => ("svg", "image/svg+xml"),
        Kind::Png => ("png", "image/png"),
        Kind::Pdf => ("pdf", "application/pdf"),
        Kind::Csv => ("csv", "text/csv"),
        Kind::Html => ("html", "text/html"),
    };
    json!({
        "file": format!("{name}.{ending}"),
        "media": media,
        "base64": STANDARD.encode(bytes),
    })
}

fn not_so() -> Wrong {
    Wrong::told("there is no such file of this", "choose another kind of file")
}

fn wrong(error: impl ToString) -> Wrong {
    Wrong::told(error, "change what is to be drawn")
}

fn bytes(figure: &Figure, kind: Kind, dpi: Option<f64>) -> Result<Vec<u8>, Wrong> {
    match kind {
        Kind::Svg => Ok(figure.to_svg().into_bytes()),
        Kind::Csv => Ok(figure.to_csv().as_bytes().to_vec()),
        Kind::Png => figure.to_png(dpi.unwrap_or(DPI)).map_err(wrong),
        Kind::Pdf => figure.to_pdf().map_err(wrong),
        _ => Err(not_so()),
    }
}

/// A figure file, or a scenario as a whole, drawn.
pub fn figure(
    of: &Which,
    scenario: Option<&Which>,
    reader: Option<Reader>,
    kind: Kind,
    dpi: Option<f64>,
) -> Result<Value, Wrong> {
    let scenario_text = match of {
        Which::Own { file, text } if tidewright_scenario::is_scenario(file, text) => true,
        Which::Own { .. } => false,
        Which::Shelf(name) => tidewright_shelf::figure(name).is_err(),
    };
    let (id, figure) = if scenario_text {
        let scenario = of.scenario()?;
        (scenario.id.to_string(), RunFigure::whole(&scenario).map_err(wrong)?)
    } else {
        let (name, text) = of.figure_text()?;
        let named = FigureFile::parse(name, text)?;
        let scenario = scenario_of(&named.scenario, scenario)?;
        let figure_file = FigureFile::parse_for(name, text, &scenario)?;
        let version = match reader {
            Some(Reader::Teacher) => Version::Teacher,
            Some(Reader::Student) => Version::Student,
            None => figure_file.version,
        };
        let figure = figure_file.draw(&scenario, version).map_err(wrong)?;
        (figure_file.id.to_string(), figure)
    };
    let mut answer = file(&id, kind, &bytes(&figure, kind, dpi)?);
    answer["title"] = figure.title().into();
    answer["description"] = figure.description().into();
    Ok(answer)
}

/// The scenario that a figure file names: the one that was given with it, or one from
/// the shelf.
fn scenario_of(path: &str, given: Option<&Which>) -> Result<Scenario, Wrong> {
    if let Some(which) = given {
        return which.scenario();
    }
    let item = tidewright_shelf::scenario_of(path).ok_or_else(|| {
        Wrong::told(
            format!("the figure is of `{path}`, which is not on the shelf"),
            "open that scenario's file together with the figure file",
        )
    })?;
    Ok(tidewright_scenario::parse(item.id, item.text)?)
}

/// What a person reads of a run, its report as JSON, and its figure.
pub fn run(of: &Which) -> Result<Value, Wrong> {
    let scenario = of.scenario()?;
    let cannot = |error: String| {
        Wrong::told(
            format!("it cannot be run to its end: {error}"),
            "change the settings that hold at that time",
        )
    };
    let mut text = Vec::new();
    let mut json = JsonReport::begin(&mut text, &scenario).map_err(|e| cannot(e.to_string()))?;
    let mut table = Table::new(&scenario);
    let simulation =
        Simulation::new(&scenario.protocol()).map_err(|error| cannot(error.to_string()))?;
    let mut drawn = RunFigure::of(0.0..scenario.duration_s);
    let ending = report::watch(&scenario, &simulation, |progress| {
        drawn.take(progress.stretch, progress.gas.map_or(&[], |gas| &gas.points));
        table.progress(progress);
        json.progress(progress)
    });
    let ending = ending.map_err(|error| cannot(error.to_string()))?;
    json.end(&ending).map_err(|error| cannot(error.to_string()))?;
    let parts = report::page(&scenario, &ending).into_iter().map(|part| match part {
        Part::Heading(text) => json!({"heading": text}),
        Part::Paragraph(text) => json!({"paragraph": text}),
        Part::Facts(facts) => json!({"facts": facts}),
        Part::List(items) => json!({"list": items}),
        Part::Breaths => {
            let Fitted { lines, note } = table.within(TABLE_WIDTH);
            json!({"table": lines.to_string(), "note": note})
        }
    });
    let parts: Vec<Value> = parts.collect();
    let figure = drawn.draw(&scenario);
    Ok(json!({
        "id": scenario.id,
        "parts": parts,
        "json": String::from_utf8_lossy(&text),
        "svg": figure.as_ref().map(Figure::to_svg).ok(),
        "no_figure": figure.as_ref().err().map(ToString::to_string),
        "description": figure.as_ref().map(|figure| figure.description().to_owned()).ok(),
    }))
}

/// A scenario to print and work on, with its answers.
pub fn handout(of: &Which, seed: u64, paper: Size, kind: Kind) -> Result<Value, Wrong> {
    let scenario = of.scenario()?;
    let sheets = [Handout::new(&scenario, seed).map_err(wrong)?];
    let paper = match paper {
        Size::A4 => Paper::A4,
        Size::Letter => Paper::Letter,
    };
    let bytes = match kind {
        Kind::Html => Handout::html(&sheets, Sheets::Both, paper).into_bytes(),
        Kind::Pdf => Handout::pdf(&sheets, Sheets::Both, paper).map_err(wrong)?,
        _ => return Err(not_so()),
    };
    Ok(file(&format!("{}-{seed}", scenario.id), kind, &bytes))
}

/// The wall chart of what each fault shows.
pub fn chart(kind: Kind) -> Result<Value, Wrong> {
    let chart = SignsChart::new().map_err(wrong)?;
    let bytes = match kind {
        Kind::Svg => chart.to_svg().into_bytes(),
        Kind::Html => chart.to_html(ChartPaper::A3).into_bytes(),
        Kind::Pdf => chart.to_pdf(ChartPaper::A3).map_err(wrong)?,
        _ => return Err(not_so()),
    };
    Ok(file("wall-chart", kind, &bytes))
}
