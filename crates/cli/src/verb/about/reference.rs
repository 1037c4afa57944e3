//! `tidewright reference`: what a scenario file can say.

use clap::Args;
use tidewright_scenario::reference;
use tidewright_scenario::report::BANNER;

use crate::exit::Exit;
use crate::files::output;
use crate::files::problem::Problem;
use crate::markdown;
use crate::page::Page;

/// Print the reference of the scenario format
///
/// Every block and field of a scenario file with its meaning, unit, range and
/// what holds when it is left out.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Reference {
    /// Only the part under this heading, such as Ventilator; `figures` for figure files
    part: Option<String>,

    /// Print it as Markdown, tables and all
    #[arg(long)]
    markdown: bool,
}

const EXAMPLES: &str = "\
Examples:
  tidewright reference | less
  tidewright reference ventilator
  tidewright reference figures
  tidewright reference sweep
  tidewright reference --markdown > FORMAT.md";

impl Reference {
    /// Prints it.
    pub fn perform(self) -> Result<Exit, Problem> {
        let whole = reference();
        let text = match &self.part {
            Some(wanted) if wanted.eq_ignore_ascii_case("figures") => {
                tidewright_figures::reference()
            }
            Some(wanted) => part(&whole, wanted)?,
            None => whole,
        };
        if self.markdown {
            output::print(&text)?;
        } else {
            let mut page = Page::new();
            markdown::set(&mut page, &text);
            page.print()?;
        }
        Ok(Exit::Done)
    }
}

/// The part of the reference under a heading, written in any case.
fn part(whole: &str, wanted: &str) -> Result<String, Problem> {
    let of_figures = tidewright_figures::reference();
    let parts: Vec<(&str, &str)> = [whole, &of_figures]
        .into_iter()
        .flat_map(|page| page.split("\n## ").skip(1))
        .map(|part| (part.lines().next().unwrap_or_default(), part))
        .collect();
    match parts.iter().find(|(heading, _)| heading.eq_ignore_ascii_case(wanted)) {
        Some((_, part)) => Ok(format!("{BANNER}\n\n## {}\n", part.trim_end())),
        None => {
            let headings: Vec<&str> = parts.iter().map(|(heading, _)| *heading).collect();
            Err(Problem::usage(
                format!("the reference has no part `{wanted}`"),
                format!("its parts are: {}", headings.join(", ")),
            ))
        }
    }
}
