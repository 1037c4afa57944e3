//! `tidewright practise`: a session, its log, and its debrief.

use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

use clap::Args;
use tidewright_scenario::format::{Begun, Cut, CutOff, Id};
use tidewright_scenario::{Attempt, Scenario};
use tidewright_training::debrief::debrief;
use tidewright_training::review::Past;
use tidewright_training::{Session, SessionError, command};

use crate::exit::Exit;
use crate::input::shown;
use crate::practise::{self, Log, typed};
use crate::problem::Problem;
use crate::{draft, history, lesson, output};

/// Practise on a lesson, be marked and be told why
///
/// On a terminal the clock runs by itself; in a pipe, or with --plain, it passes
/// only when a line says so, as in `wait 10`. The log of the attempt is kept while it
/// goes on: whatever ends the program, --resume takes it up where it was, and
/// `tidewright mark` marks what there is.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Practise {
    /// Lesson: a name such as `juno`, a number, or a scenario file with a training block
    #[arg(value_name = "SCENARIO", required_unless_present = "resume")]
    scenario: Option<PathBuf>,

    /// Take a session up again where it was cut off, from its log
    #[arg(long, value_name = "LOG", conflicts_with_all = ["seed", "dealt", "pseudonym", "log"])]
    resume: Option<PathBuf>,

    /// Seed that draws the case [default: a new one each time]
    #[arg(long, value_name = "N", conflicts_with = "dealt")]
    seed: Option<u32>,

    /// File from `tidewright class deal`, with your pseudonym and seed
    #[arg(long, value_name = "FILE")]
    dealt: Option<PathBuf>,

    /// Pseudonym in the log; never a name [default: student]
    #[arg(long, value_name = "WORD", conflicts_with = "dealt")]
    pseudonym: Option<String>,

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
  tidewright practise biscuit
  tidewright practise juno --speed 2
  tidewright practise --resume juno-the-loose-joint-7.attempt.ron
  printf 'wait 130\\nlisten\\nreseat\\nend\\n' |
    tidewright practise juno --seed 1

It ends with code 0 whatever the result: to practise is no test. `tidewright mark` tells.";

fn speed(text: &str) -> Result<f64, String> {
    let speed: f64 = text.parse().map_err(|_| "write a number, such as 2".to_owned())?;
    if (0.1..=20.0).contains(&speed) { Ok(speed) } else { Err("write 0.1 to 20".to_owned()) }
}

/// A session with its log, before its clock starts.
struct Ready {
    scenario: Arc<Scenario>,
    session: Session,
    pseudonym: Id,
    log: Log,
    /// Where it was cut off before.
    interrupted: Vec<CutOff>,
}

impl Practise {
    /// Runs the session.
    pub fn perform(self) -> Result<Exit, Problem> {
        draft::check(&self.page)?;
        let ready = match &self.resume {
            Some(place) => self.taken_up(place)?,
            None => self.begun()?,
        };
        let Ready { scenario, mut session, pseudonym, log, interrupted } = ready;
        let outcome = if self.on_screen() {
            practise::on_screen(session, self.speed, &log)
        } else {
            log.caution().iter().for_each(|told| output::complain_in_words(&format!("{told}\n")));
            practise::in_lines(&mut session, io::stdin().lock(), &log).map(|()| (session, None))
        };
        let session = match outcome {
            Ok((session, None)) => session,
            Ok((_, Some(by))) => {
                output::print(&log.cut(by))?;
                return Ok(Exit::Stopped);
            }
            Err(problem) => {
                output::complain_in_words(&log.cut(Cut::Fault));
                return Err(problem);
            }
        };
        let attempt = Attempt { interrupted, ..session.attempt(pseudonym) };
        let place = log.place().to_path_buf();
        log.finish(&attempt)?;
        self.told(&scenario, &attempt, &place)
    }

    fn on_screen(&self) -> bool {
        !self.plain && output::is_typed() && io::stdout().is_terminal()
    }

    /// A new session.
    fn begun(&self) -> Result<Ready, Problem> {
        let Some(named) = &self.scenario else {
            return Err(Problem::usage("no lesson is named", "name one, as in `practise juno`"));
        };
        let scenario = lesson::scenario(named)?;
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
                let word = self.pseudonym.as_deref().unwrap_or("student");
                (self.seed.unwrap_or_else(new_seed), command::pseudonym(word).map_err(wrong)?, None)
            }
        };
        let session = Session::dealt(&scenario, seed, dealt.clone()).map_err(cannot_run)?;
        let whose = if self.dealt.is_some() { pseudonym.to_string() } else { seed.to_string() };
        let begun = Begun {
            format: 1,
            scenario: scenario.id.clone(),
            seed,
            engine: env!("CARGO_PKG_VERSION").to_owned(),
            model: Some(tidewright::MODEL_REVISION),
            pseudonym: pseudonym.clone(),
            dealt,
        };
        let log = match &self.log {
            Some(target) => Log::begin(target, begun)?,
            None => free_log(&format!("{}-{whose}", scenario.id), &begun)?,
        };
        Ok(Ready { scenario, session, pseudonym, log, interrupted: Vec::new() })
    }

    /// A session that was cut off, where it was.
    fn taken_up(&self, place: &Path) -> Result<Ready, Problem> {
        let (log, attempt) = Log::take_up(place)?;
        let scenario = match &self.scenario {
            Some(named) => lesson::scenario(named)?,
            None => lesson::scenario_of(&attempt).ok_or_else(|| {
                Problem::usage(
                    format!("{} is of `{}`, which is not inside", shown(place), attempt.scenario),
                    "name its scenario file, too",
                )
            })?,
        };
        let session = Session::resume(&scenario, &attempt).map_err(lesson::mismatch)?;
        let mut interrupted = attempt.interrupted.clone();
        if let Some(by) = attempt.cut_off {
            let at_s = attempt.ended_at_s;
            output::print(&format!(
                "Taken up at {at_s:.0} s; it was cut off: {}.\n",
                by.in_words()
            ))?;
            interrupted.push(CutOff { at_s, by });
        }
        Ok(Ready { scenario, session, pseudonym: attempt.pseudonym, log, interrupted })
    }

    /// Tells how it went.
    fn told(
        &self,
        scenario: &Arc<Scenario>,
        attempt: &Attempt,
        log: &Path,
    ) -> Result<Exit, Problem> {
        let debrief = debrief(scenario, attempt, None).map_err(lesson::mismatch)?;
        output::print(&output::wrapped(&format!("\n{}\n", debrief.to_text())))?;
        let named = self.scenario.as_deref().map_or_else(|| scenario.id.to_string(), typed);
        // Whole, so that it can be copied.
        output::print(&format!(
            "Log: {}\nMark it again: tidewright mark {named} {}\n",
            shown(log),
            typed(log)
        ))?;
        if let Some(page) = &self.page {
            lesson::write_page(scenario, attempt, &debrief, page)?;
            output::print(&format!("Page: {}\n", shown(page)))?;
        }
        if !self.no_history {
            let (day, passed) = (history::today(), debrief.marking.passed);
            history::add(&Past { scenario: scenario.id.to_string(), day, passed })?;
        }
        Ok(Exit::Done)
    }
}

fn cannot_run(error: SessionError) -> Problem {
    Problem::usage(error.to_string(), "check the scenario")
}

/// A log under the first name that no file has yet: what was done before is not lost.
fn free_log(stem: &str, begun: &Begun) -> Result<Log, Problem> {
    let numbered = (2..).map(|number| format!("{stem}-{number}.attempt.ron"));
    let names = std::iter::once(format!("{stem}.attempt.ron")).chain(numbered);
    for path in names.map(PathBuf::from).filter(|path| !path.exists()) {
        match Log::begin(&path, begun.clone()) {
            // Another session may have taken the name meanwhile.
            Err(_) if path.exists() => {}
            other => return other,
        }
    }
    unreachable!("some number is free")
}

fn new_seed() -> u32 {
    SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default().subsec_nanos()
}
