//! `tidewright figure`: a figure file drawn.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use tidewright_figures::file::Size;
use tidewright_figures::{FigureFile as FigureText, Version};

use crate::exit::Exit;
use crate::figure::{self, FigureFile};
use crate::files::draft;
use crate::files::input::{self, Drawing, shown};
use crate::files::output;
use crate::files::problem::Problem;

/// Draw a figure file
///
/// A figure file names a scenario and says what to show of it: signals over time, loops,
/// trends over minutes, or measures of the settled breath. A scenario alone is drawn from
/// its start to its end: pressure, flow, volume and, with gas exchange, the capnogram.
/// Without --out the figure's description is printed.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Figure {
    /// Figure file or scenario, RON or JSON, or the name of a figure in the folder
    /// `figures` or of one that the program has inside; - reads standard input
    #[arg(value_name = "FIGURE")]
    file: PathBuf,

    /// Where to write it; ends in .svg, .png, .pdf or .csv; may be given more than once
    #[arg(long, value_name = "FILE", value_parser = figure::file_parser())]
    out: Vec<FigureFile>,

    /// Resolution of a PNG
    #[arg(long, value_name = "DPI", default_value = "300", requires = "out", value_parser = figure::dpi, allow_negative_numbers = true)]
    dpi: f64,

    /// For whom it is [default: as the file says]
    #[arg(long = "for", value_name = "READER")]
    reader: Option<Reader>,

    /// Build it up curve by curve: leak.svg becomes leak-1.svg, leak-2.svg and so on, at the
    /// same scale, for slides that follow each other
    #[arg(long, requires = "out", conflicts_with = "running")]
    builds: bool,

    /// Let its curves run from left to right, as fast as they were; an SVG that stands still
    /// on paper and where motion is not wanted
    #[arg(long, requires = "out")]
    running: bool,

    /// Its size [default: as the file says]
    #[arg(long, value_name = "SIZE")]
    size: Option<Sizes>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Sizes {
    /// A printed page
    Page,
    /// A slide of 16 to 9
    Slide,
    /// A slide of 4 to 3
    SlideFourToThree,
    /// A column of a page of two
    Column,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Reader {
    /// With names, marks and measures
    Teacher,
    /// Axes and curves only, for a quiz
    Student,
}

const EXAMPLES: &str = "\
Examples:
  tidewright figure figures/one-breath.ron --out one-breath.svg
  tidewright figure figures/stiff-lung.ron --for student --out quiz.png --dpi 150
  tidewright figure large-leak --out large-leak.pdf
  tidewright figure small-leak --size slide --out leak.svg
  tidewright figure small-leak --size slide --builds --out leak.png
  tidewright figure one-breath --running --out one-breath.svg
  tidewright figure figures/flow-sweep.ron --out flow-sweep.csv
  tidewright figure scenarios/first-breaths-and-a-leak.ron --out run.svg";

impl Figure {
    /// Draws it.
    pub fn perform(mut self) -> Result<Exit, Problem> {
        let named = Path::new("figures").join(&self.file).with_extension("ron");
        if self.file.extension().is_none() && !self.file.exists() && named.exists() {
            self.file = named;
        }
        let drawing = match self.inside()? {
            Some(drawing) => drawing,
            None => input::drawing(&self.file)?,
        };
        draft::check(self.out.iter().map(|out| &out.path))?;
        let waiting = output::waiting("drawing");
        let figure = match drawing {
            Drawing::Figure { mut file, scenario } => {
                file.look = self.size.map_or(file.look, Sizes::size);
                let version = match self.reader {
                    Some(Reader::Teacher) => Version::Teacher,
                    Some(Reader::Student) => Version::Student,
                    None => file.version,
                };
                let wrong = |source| Problem::FigureFile { file: shown(&self.file), source };
                if self.running {
                    let svg = file.draw_running(&scenario, version).map_err(wrong)?;
                    return self.write_running(&svg);
                }
                if self.builds {
                    let builds = file.builds(&scenario, version).map_err(wrong)?;
                    return self.write_builds(&builds);
                }
                file.draw(&scenario, version).map_err(wrong)?
            }
            Drawing::Scenario(_) if self.builds || self.running => {
                return Err(Problem::usage(
                    "a scenario is drawn as it is: only a figure file builds up or runs",
                    "write a figure file that names the scenario",
                ));
            }
            Drawing::Scenario(_) if self.size.is_some() => {
                return Err(Problem::usage(
                    "a scenario is drawn at the size of a page: only a figure file has others",
                    "leave `--size` out, or write a figure file that names the scenario",
                ));
            }
            Drawing::Scenario(_) if self.reader.is_some() => {
                return Err(Problem::usage(
                    "a scenario is drawn with its names: only a figure file has a student's version",
                    "leave `--for` out, or write a figure file that names the scenario",
                ));
            }
            Drawing::Scenario(scenario) => figure::of_run(&scenario, &shown(&self.file))?,
        };
        if self.out.is_empty() {
            drop(waiting);
            output::print(&format!("{}\n\n{}\n", figure.title(), figure.description()))?;
        }
        for out in &self.out {
            let bytes = out.bytes(&figure, self.dpi)?;
            draft::write(&out.path, &bytes)?;
        }
        Ok(Exit::Done)
    }

    fn write_running(&self, svg: &str) -> Result<Exit, Problem> {
        if let Some(other) = self.out.iter().find(|out| !out.is_svg()) {
            return Err(Problem::usage(
                format!("{} cannot hold curves that run", shown(&other.path)),
                "give `--out` a name that ends in .svg",
            ));
        }
        for out in &self.out {
            draft::write(&out.path, svg.as_bytes())?;
        }
        Ok(Exit::Done)
    }

    fn write_builds(&self, builds: &[tidewright_figures::Figure]) -> Result<Exit, Problem> {
        let all = self.out.iter().flat_map(|out| builds.iter().enumerate().map(move |b| (out, b)));
        let all: Vec<_> = all.map(|(out, (i, build))| (out.numbered(i + 1), build)).collect();
        draft::check(all.iter().map(|(out, _)| &out.path))?;
        for (out, build) in all {
            draft::write(&out.path, &out.bytes(build, self.dpi)?)?;
        }
        Ok(Exit::Done)
    }

    /// A figure that the program has inside, where its name is no file.
    fn inside(&self) -> Result<Option<Drawing>, Problem> {
        if self.file.extension().is_some() || self.file.exists() {
            return Ok(None);
        }
        let item = self.file.to_str().and_then(|word| tidewright_shelf::figure(word).ok());
        let Some(item) = item else { return Ok(None) };
        let named = FigureText::parse(item.id, item.text)?;
        let Some(scenario) = tidewright_shelf::scenario_of(&named.scenario) else {
            return Ok(None);
        };
        let scenario = tidewright_scenario::parse(scenario.id, scenario.text)?;
        let file = FigureText::parse_for(item.id, item.text, &scenario)?;
        Ok(Some(Drawing::Figure { file: Box::new(file), scenario: Box::new(scenario) }))
    }
}

impl Sizes {
    fn size(self) -> Size {
        match self {
            Self::Page => Size::Page,
            Self::Slide => Size::Slide,
            Self::SlideFourToThree => Size::SlideFourToThree,
            Self::Column => Size::Column,
        }
    }
}
