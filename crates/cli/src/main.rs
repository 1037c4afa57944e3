//! The program `tidewright`: files in, tables, reports and figures out.
//!
//! Each verb is a file under `verb/`. This crate alone opens files, prints and
//! ends with a code; what it prints is made by the libraries.

mod demo;
mod exam;
mod exit;
mod figure;
mod files;
mod lesson;
mod markdown;
mod page;
mod practise;
mod run_page;
mod sweep_figure;
mod verb;

use clap::Parser;
use clap::error::{ContextKind, ContextValue, ErrorKind};
use exit::Exit;
use files::problem::Problem;
use files::{draft, output, stop};
use verb::Verb;

/// Tidewright: what happens to this animal's breath when I turn this control, or
/// when this part of the equipment fails?
///
/// It simulates a ventilator that is driven by the fresh gas flow, for teaching
/// veterinary anaesthesia. Without a command it runs its built-in scenario.
#[derive(Debug, Parser)]
#[command(name = "tidewright", version, after_help = AFTER_HELP)]
struct Command {
    #[command(subcommand)]
    verb: Option<Verb>,

    /// Write over files that are there already; without it they are kept, and the log of
    /// an attempt is kept in any case
    #[arg(long, global = true)]
    replace: bool,
}

const AFTER_HELP: &str = "\
Examples:
  tidewright                             the built-in scenario, as a first look
  tidewright example > first.ron         the same scenario as a file of your own
  tidewright run first.ron               run it and read the breath table
  tidewright run first.ron --figure first.svg
  tidewright check *.ron                 find every fault in your files

Exit codes:
  0  done
  1  an attempt did not pass, or the goals of a plan cannot be met
  2  the command line is wrong, or its files do not go together
  3  a file is not valid: a scenario, a log, a roster that names nobody or one twice
  4  something cannot be read or written
  70 a fault of the program itself
  130 stopped by Ctrl-C or by the system

Colour follows NO_COLOR and is left out of files and pipes; NO_GRAPHICS=1 tells
faults in plain sentences, for screen readers.

For teaching only. Not a medical device.";

fn main() -> std::process::ExitCode {
    output::report_panics();
    cap_threads();
    stop::heed();
    let outcome = match Command::try_parse() {
        Ok(Command { verb, replace }) => {
            draft::may_replace(replace);
            verb.map_or_else(demo::perform, Verb::perform)
        }
        Err(error) => misunderstood(error),
    };
    let exit = outcome.unwrap_or_else(|problem| {
        output::complain(&problem);
        problem.exit()
    });
    exit.into()
}

/// As many threads as the machine has cores at most, whatever the environment asks:
/// each thread more would only cost memory.
fn cap_threads() {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let asked = std::env::var("RAYON_NUM_THREADS").ok().and_then(|text| text.parse().ok());
    let threads =
        asked.filter(|&threads| threads > 0).map_or(cores, |asked: usize| asked.min(cores));
    // It fails only if there are threads already, and this is the first that asks for any.
    let _ = rayon::ThreadPoolBuilder::new().num_threads(threads).build_global();
}

/// Help, the version, or what is wrong with the command line.
fn misunderstood(mut error: clap::Error) -> Result<Exit, Problem> {
    if error.kind() == ErrorKind::InvalidSubcommand
        && let Some(ContextValue::String(word)) = error.get(ContextKind::InvalidSubcommand)
        && std::path::Path::new(word).is_file()
    {
        let tip = format!("to run a scenario file, write `tidewright run {word}`").into();
        error.remove(ContextKind::SuggestedSubcommand);
        error.insert(ContextKind::Suggested, ContextValue::StyledStrs(vec![tip]));
    }
    let text = error.render();
    if error.use_stderr() {
        // What was typed stands in it: colours are left out where it holds any of its own.
        let plain = text.to_string();
        let shown = output::visible(&plain);
        match shown == plain {
            true => output::complain_in_words(&text.ansi().to_string()),
            false => output::complain_in_words(&shown),
        }
        return Ok(Exit::Usage);
    }
    output::print(&text.ansi().to_string())?;
    Ok(Exit::Done)
}
