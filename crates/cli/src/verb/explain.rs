//! `tidewright explain`: the words of the job, with a scenario's numbers.

use std::path::PathBuf;

use clap::Args;
use tidewright_training::BANNER;
use tidewright_training::glossary::{TERMS, explained, find};

use crate::exit::Exit;
use crate::problem::Problem;
use crate::{input, output};

/// Explain a word of the job, with the relation behind it
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  tidewright explain leak --in scenarios/stiff-lung-normal-peak.ron"
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
            let names: Vec<&str> = TERMS.iter().map(|term| term.name).collect();
            output::print(&format!("{}\n", names.join("\n")))?;
            return Ok(Exit::Done);
        }
        let word = self.term.join(" ");
        let term = find(&word).ok_or_else(|| {
            let likeness = |known: &&&str| {
                strsim::normalized_damerau_levenshtein(&word.to_lowercase(), &known.to_lowercase())
            };
            let names = TERMS.iter().flat_map(|term| term.also.iter().chain([&term.name]));
            let near = names.max_by(|a, b| likeness(a).total_cmp(&likeness(b)));
            let mend = match near.filter(|near| likeness(near) >= 0.6) {
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
