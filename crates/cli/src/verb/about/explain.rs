//! `tidewright explain`: the words of the job, with a scenario's numbers.

use std::path::PathBuf;

use clap::Args;
use tidewright_scenario::fault::near;
use tidewright_training::BANNER;
use tidewright_training::glossary::{TERMS, explained, find};

use crate::exit::Exit;
use crate::files::problem::Problem;
use crate::files::{input, output};
use crate::verb::species;

/// Explain a word of the job, with the relation behind it
///
/// Each word names its source. A number that an animal brings, such as its heart rate,
/// is told with law and source for every species.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  tidewright explain leak --in scenarios/stiff-lung-normal-peak.ron\n  \
                  tidewright explain heart rate"
)]
pub struct Explain {
    /// The word, such as `tidal volume`; without one, all are listed
    #[arg(value_name = "TERM", num_args = 0..)]
    term: Vec<String>,

    /// Take the numbers of this scenario
    #[arg(long = "in", value_name = "SCENARIO")]
    scenario: Option<PathBuf>,
}

impl Explain {
    /// Explains it.
    pub fn perform(self) -> Result<Exit, Problem> {
        if self.term.is_empty() {
            let names: Vec<&str> =
                TERMS.iter().map(|term| term.name).chain(species::parameters()).collect();
            output::print(&format!("{}\n", names.join("\n")))?;
            return Ok(Exit::Done);
        }
        let word = self.term.join(" ");
        if find(&word).is_none()
            && let Some(parameter) = species::parameter(&word)
        {
            output::print(&output::wrapped(&format!(
                "{}\n\n{BANNER}\n",
                species::explained(parameter)
            )))?;
            return Ok(Exit::Done);
        }
        let term = find(&word).ok_or_else(|| {
            let names = TERMS.iter().flat_map(|term| term.also.iter().chain([&term.name]));
            let names: Vec<&str> = names.copied().chain(species::parameters()).collect();
            let mend = match near(&word, &names) {
                Some(near) => format!("did you mean `{near}`?"),
                None => "`tidewright explain` alone lists the words".to_owned(),
            };
            Problem::usage(format!("`{word}` is not in the glossary"), mend)
        })?;
        let scenario = self.scenario.as_deref().map(input::scenario).transpose()?;
        let page = format!("{}\n\n{BANNER}\n", explained(term, scenario.as_ref()));
        output::print(&output::wrapped(&page))?;
        Ok(Exit::Done)
    }
}
