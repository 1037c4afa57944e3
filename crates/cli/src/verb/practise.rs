//! `tidewright practise`: a session, its log, and its debrief.

use std::io::{self, IsTerminal, Write as _};
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use clap::Args;
use tidewright_training::debrief::debrief;
use tidewright_training::review::Past;
use tidewright_training::{BANNER, Session, command};

use crate::draft::Draft;
use crate::exit::Exit;
use crate::input::shown;
use crate::problem::Problem;
use crate::{history, lesson, output, practise};

/// Practise on a lesson, be marked and be told why
///
/// On a terminal the clock runs by itself; in a pipe, or with --plain, it passes
/// only when a line says so, as in `wait 10`. The log of the attempt is written
/// at the end; `tidewright mark` marks it again whenever wanted.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Practise {
    /// Lesson: a scenario file with a training block
    #[arg(value_name = "SCENARIO")]
    scenario: PathBuf,

    /// Seed that draws the case [default: a new one each time]
    #[arg(long, value_name = "N", conflicts_with = "dealt")]
    seed: Option<u32>,

    /// File from `tidewright class deal`, with your pseudonym and seed
    #[arg(long, value_name = "FILE")]
    dealt: Option<PathBuf>,

    /// Pseudonym in the log; never a name
    #[arg(long, value_name = "WORD", default_value = "student", conflicts_with = "dealt")]
    pseudonym: String,

    /// Log of the attempt [default: SCENARIO-SEED.attempt.ron, or with --dealt
    /// SCENARIO-PSEUDONYM.attempt.ron; a later one is numbered]
    #[arg(long, value_name = "FILE")]
    log: Option<PathBuf>,

    /// Write the debrief with its figure as a page, too
    #[arg(long, value_name = "FILE.html")]
    page: Option<PathBuf>,

    /// A session in plain lines, for screen readers
    #[arg(long)]
    plain: bool,

    /// How fast the clock runs on the screen
    #[arg(long, value_name = "TIMES", default_value = "1", value_parser = speed)]
    speed: f64,

    /// Leave this attempt out of `tidewright learn`
    #[arg(long)]
    no_history: bool,
}

const EXAMPLES: &str = "\
Examples:
  tidewright practise scenarios/training/biscuit-settings-from-weight.ron
  tidewright practise scenarios/training/juno-the-loose-joint.ron --speed 2
  printf 'wait 130\\nlisten\\nreseat\\nend\\n' |
    tidewright practise scenarios/training/juno-the-loose-joint.ron --seed 1

It ends with code 0 whatever the result: to practise is no test. `tidewright mark` tells.";

fn speed(text: &str) -> Result<f64, String> {
    let speed: f64 = text.parse().map_err(|_| "write a number, such as 2".to_owned())?;
    if (0.1..=20.0).contains(&speed) { Ok(speed) } else { Err("write 0.1 to 20".to_owned()) }
}

impl Practise {
    /// Runs the session.
    pub fn perform(self) -> Result<Exit, Problem> {
        let scenario = lesson::scenario(&self.scenario)?;
        let (seed, pseudonym, dealt) = match &self.dealt {
            Some(path) => {
                let dealt = lesson::attempt(path)?;
                if dealt.scenario != scenario.id {
                    return Err(Problem::usage(
                        format!("{} was dealt for `{}`", shown(path), dealt.scenario),
                        "name that scenario",
                    ));
                }
                (dealt.seed, dealt.pseudonym, dealt.dealt)
            }
            None => {
                let wrong = |error: command::NotUnderstood| {
                    Problem::usage(error.to_string(), "choose another with --pseudonym")
                };
                (
                    self.seed.unwrap_or_else(new_seed),
                    command::pseudonym(&self.pseudonym).map_err(wrong)?,
                    None,
                )
            }
        };
        let mut session = Session::dealt(&scenario, seed, dealt)
            .map_err(|error| Problem::usage(error.to_string(), "check the scenario"))?;
        if !self.plain && output::is_typed() && io::stdout().is_terminal() {
            session = practise::on_screen(session, self.speed)?;
        } else {
            practise::in_lines(&mut session, io::stdin().lock())?;
        }
        let attempt = session.attempt(pseudonym.clone());
        let whose = if self.dealt.is_some() { pseudonym.to_string() } else { seed.to_string() };
        let log = self.log.unwrap_or_else(|| free(&format!("{}-{whose}", scenario.id)));
        let mut draft = Draft::begin(&log)?;
        draft.write_all(format!("// {BANNER}\n{}", attempt.to_ron()).as_bytes())?;
        draft.publish()?;
        let debrief = debrief(&scenario, &attempt, None).map_err(lesson::mismatch)?;
        output::print(&output::wrapped(&format!("\n{}\n", debrief.to_text())))?;
        // Whole, so that it can be copied.
        output::print(&format!(
            "Log: {}\nMark it again: tidewright mark {} {}\n",
            shown(&log),
            typed(&self.scenario),
            typed(&log)
        ))?;
        if let Some(page) = &self.page {
            lesson::write_page(&scenario, &attempt, &debrief, page)?;
            output::print(&format!("Page: {}\n", shown(page)))?;
        }
        if !self.no_history {
            let (day, passed) = (history::today(), debrief.marking.passed);
            history::add(&Past { scenario: scenario.id.to_string(), day, passed })?;
        }
        Ok(Exit::Done)
    }
}

/// The first name of a log that no file has yet: what was done before is not lost.
fn free(stem: &str) -> PathBuf {
    let numbered = (2..).map(|number| format!("{stem}-{number}.attempt.ron"));
    let names = std::iter::once(format!("{stem}.attempt.ron")).chain(numbered);
    let mut free = names.map(PathBuf::from).filter(|path| !path.exists());
    free.next().expect("some number is free")
}

/// A path as it is typed in a shell.
fn typed(path: &Path) -> String {
    let path = shown(path);
    let plain = |c: char| c.is_alphanumeric() || "/\\.:_-".contains(c);
    if path.chars().all(plain) { path } else { format!("'{path}'") }
}

fn new_seed() -> u32 {
    SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default().subsec_nanos()
}
