//! `tidewright check`: every fault of many files.

use std::path::PathBuf;
use std::sync::Arc;

use clap::Args;
use tidewright_training::proof::cautions;

use crate::exit::Exit;
use crate::files::input::{self, shown};
use crate::files::output;
use crate::files::problem::Problem;
use crate::lesson;

/// Find every fault in scenario files, and in the logs of attempts
///
/// What a class was dealt is a log in which nothing is done yet.
/// Faults are told on standard error, each with its place and a way to mend it;
/// standard output has a line for each file and a summary. A lesson is run once for each
/// case with nobody doing anything; what its author should know of it is a note: cases
/// that no act on offer mends, objectives that nothing measures, points for doing nothing.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Check {
    /// Scenario files or logs, RON or JSON; - reads standard input
    #[arg(value_name = "SCENARIO", required = true)]
    scenarios: Vec<PathBuf>,
}

const EXAMPLES: &str = "\
Examples:
  tidewright check first.ron
  tidewright check scenarios/*.ron
  tidewright check dealt/*.ron
  tidewright check *.ron 2> faults.txt

Ends with code 3 if a file is not valid, else with 4 if one cannot be read.";

impl Check {
    /// Checks them all.
    pub fn perform(self) -> Result<Exit, Problem> {
        let (mut valid, mut not_valid, mut unread) = (0, 0, 0);
        for path in &self.scenarios {
            let checked = input::check(path);
            let (verdict, count) = match &checked {
                Ok(_) => ("valid", &mut valid),
                Err(Problem::NotValid(_)) => ("not valid", &mut not_valid),
                Err(_) => ("not read", &mut unread),
            };
            *count += 1;
            let notes = match checked {
                Ok(Some(lesson)) => cautions(&Arc::new(lesson)).map_err(lesson::mismatch)?,
                Ok(None) => Vec::new(),
                Err(problem) => {
                    output::complain(&problem);
                    Vec::new()
                }
            };
            output::print(&format!("{verdict:<9}  {}\n", shown(path)))?;
            for note in notes {
                output::print(&output::wrapped(&format!("             note: {note}\n")))?;
            }
        }
        if self.scenarios.len() > 1 {
            let files = self.scenarios.len();
            let mut summary = format!("\n{files} files: {valid} valid, {not_valid} not valid");
            if unread > 0 {
                summary += &format!(", {unread} could not be read");
            }
            output::print(&(summary + "\n"))?;
        }
        Ok(match (not_valid, unread) {
            (0, 0) => Exit::Done,
            (0, _) => Exit::ReadOrWrite,
            _ => Exit::NotValid,
        })
    }
}
