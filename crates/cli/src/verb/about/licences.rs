//! `tidewright licences`: what the program is built from, and under which terms.

use clap::Args;

use crate::exit::Exit;
use crate::files::output;
use crate::files::problem::Problem;

/// Print what this program is built from, and under which terms
#[derive(Debug, Args)]
#[command(alias = "licenses", after_help = EXAMPLES)]
pub struct Licences {}

const EXAMPLES: &str = "\
Examples:
  tidewright licences | less";

/// Written by `.ci/notices`.
const NOTICES: &str = include_str!("../../../THIRD-PARTY.txt");

impl Licences {
    /// Prints them.
    pub fn perform(self) -> Result<Exit, Problem> {
        output::print("Tidewright is yours under the MIT licence or the Apache licence 2.0.\n\n")?;
        output::print(NOTICES)?;
        Ok(Exit::Done)
    }
}
