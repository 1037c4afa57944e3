//! `tidewright handout`: a scenario to print and work on.

use std::io::Write as _;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use tidewright_figures::{Paper, handout};

use crate::draft::Draft;
use crate::exit::Exit;
use crate::input::{self, shown};
use crate::problem::Problem;

/// Make a scenario a printable handout
///
/// One HTML file, complete in itself: pages to work on, and an answer sheet that
/// the engine filled in. Print it from any browser.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Handout {
    /// Scenario file, RON or JSON; - reads standard input
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Where to write it; - is standard output
    #[arg(long, value_name = "FILE", default_value = "-")]
    out: PathBuf,

    /// Size of the paper
    #[arg(long, value_name = "PAPER", default_value = "a4")]
    paper: Size,

    /// Another patient for each number; 0 is the scenario as it stands
    #[arg(long, value_name = "NUMBER", default_value = "0")]
    seed: u64,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Size {
    /// 210 by 297 mm
    A4,
    /// 8.5 by 11 inches
    Letter,
}

const EXAMPLES: &str = "\
Examples:
  tidewright handout first.ron --out first.html
  tidewright handout first.ron --seed 12 --paper letter --out student-12.html";

impl Handout {
    /// Makes it.
    pub fn perform(self) -> Result<Exit, Problem> {
        let scenario = input::scenario(&self.scenario)?;
        let paper = match self.paper {
            Size::A4 => Paper::A4,
            Size::Letter => Paper::Letter,
        };
        let page = handout(&scenario, paper, self.seed)
            .map_err(|source| Problem::FigureFile { file: shown(&self.scenario), source })?;
        let mut draft = Draft::begin(&self.out)?;
        draft.write_all(page.as_bytes())?;
        draft.publish()?;
        Ok(Exit::Done)
    }
}
