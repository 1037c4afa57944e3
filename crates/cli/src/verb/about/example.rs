//! `tidewright example`: a scenario file to begin with.

use clap::Args;
use tidewright_scenario::DEMO;
use tidewright_scenario::report::BANNER;

use crate::exit::Exit;
use crate::files::output;
use crate::files::problem::Problem;

/// Print the built-in scenario, to make it a file of your own
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Example {}

const EXAMPLES: &str = "\
Examples:
  tidewright example > first.ron
  tidewright example | tidewright run -";

impl Example {
    /// Prints it.
    pub fn perform(self) -> Result<Exit, Problem> {
        output::print(&format!("// {BANNER}\n{DEMO}"))?;
        Ok(Exit::Done)
    }
}
