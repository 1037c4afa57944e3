//! `tidewright practise`: a session, its log, and its debrief.

use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

use clap::Args;
use tidewright_scenario::format::{Begun, Cut, CutOff, Id};
use tidewright_scenario::{Attempt, Scenario};
use tidewright_training::debrief::debrief;
use tidewright_training::exam::{Chain, Exam};
use tidewright_training::review::Past;
use tidewright_training::{Session, SessionError, command};

use crate::exit::Exit;
use crate::files::input::{self, STANDARD, shown};
use crate::files::problem::Problem;
use crate::files::{draft, history, output};
use crate::practise::{self, Log, typed};
use crate::{exam, lesson};

/// Practise on a lesson, be marked and be told why
///
/// On a terminal the clock runs by itself; in a pipe, or with --plain, it passes
/// only when a line says so, as in `wait 10`. The log of the attempt is kept while it
/// goes on: whatever ends the program, --resume takes it up where it was, and
/// `tidewright mark` marks what there is.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Practise {
    /// Lesson: a name such as `juno`, a number, a scenario file with a training block, or
    /// a sealed exam, whose passphrase is asked for
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

    /// Log of the attempt [default: LESSON-SEED.attempt.ron, or with --dealt
    /// LESSON-PSEUDONYM.attempt.ron; a later one is numbered]
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

    /// Ring the terminal's bell when an alarm begins to sound
    #[arg(long)]
    bell: bool,

    /// Leave this attempt out of `tidewright learn`
    #[arg(long)]
    no_history: bool,
}

const EXAMPLES: &str = "\
Examples:
  tidewright practise biscuit
  tidewright practise juno --speed 2
  tidewright practise --resume juno-7.attempt.ron
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
    /// The how-manieth sitting of an exam it is.
    sitting: Option<u32>,
}

impl Practise {
    /// Runs the session.
    pub fn perform(self) -> Result<Exit, Problem> {
        let exam = self.scenario.as_deref().map(exam::open).transpose()?.flatten();
        let ready = match &self.resume {
            Some(place) => self.taken_up(place, exam)?,
            None => self.begun(exam)?,
        };
        let Ready { scenario, mut session, pseudonym, log, interrupted, sitting } = ready;
        let outcome = if self.on_screen() {
            practise::on_screen(session, self.speed, self.bell, &log)
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
        let mut attempt = Attempt { interrupted, ..session.attempt(pseudonym) };
        attempt.exam = sitting.and_then(|number| log.sitting(number, &attempt));
        let place = log.place().to_path_buf();
        log.finish(&attempt)?;
        if let Some(exam) = &attempt.exam {
            output::print(&output::wrapped(&format!(
                "\nYour log: {} (sitting {} on this machine). Hand it in as it is; your teacher \
                 marks it.\n",
                shown(&place),
                exam.number
            )))?;
            return Ok(Exit::Done);
        }
        self.told(&scenario, &attempt, &place)
    }

    fn on_screen(&self) -> bool {
        !self.plain && output::is_typed() && io::stdout().is_terminal()
    }

    /// A new session.
    fn begun(&self, exam: Option<Exam>) -> Result<Ready, Problem> {
        if let Some(exam) = exam {
            return self.sat(&exam);
        }
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
        draft::check(self.log.iter().chain(&self.page))?;
        let session = Session::dealt(&scenario, seed, dealt).map_err(cannot_run)?;
        let whose = if self.dealt.is_some() { pseudonym.to_string() } else { seed.to_string() };
        let begun = session.begun(pseudonym.clone());
        let log = match &self.log {
            Some(target) => Log::begin(target, begun, None)?,
            None => {
                // Who named a file has seen its name.
                let id = scenario.id.as_str();
                let name = if lesson::is_word(named) { tidewright_shelf::shown(id) } else { id };
                free_log(&format!("{name}-{whose}"), &begun, None)?
            }
        };
        Ok(Ready { scenario, session, pseudonym, log, interrupted: Vec::new(), sitting: None })
    }

    /// A sitting of an exam.
    fn sat(&self, exam: &Exam) -> Result<Ready, Problem> {
        if self.seed.is_some() || self.dealt.is_some() || self.pseudonym.is_some() {
            return Err(Problem::usage(
                "an exam has its own seed and pseudonym",
                "leave out --seed, --dealt and --pseudonym",
            ));
        }
        let scenario = Arc::new(exam.scenario.clone());
        let session =
            Session::dealt(&scenario, exam.seed, exam.dealt.clone()).map_err(cannot_run)?;
        draft::check(self.log.iter().chain(&self.page))?;
        let number = exam::next_sitting(exam);
        let chain = Chain::begin(&exam.secret, &session.attempt(exam.pseudonym.clone()), number);
        let begun = Begun { sitting: Some(number), ..session.begun(exam.pseudonym.clone()) };
        let log = match &self.log {
            Some(target) => Log::begin(target, begun, Some(chain))?,
            None => free_log(exam.name.as_str(), &begun, Some(&chain))?,
        };
        // A log that cannot be begun is no sitting.
        exam::count_sitting(exam)?;
        let (pseudonym, sitting) = (exam.pseudonym.clone(), Some(number));
        Ok(Ready { scenario, session, pseudonym, log, interrupted: Vec::new(), sitting })
    }

    /// A session that was cut off, where it was.
    fn taken_up(&self, place: &Path, exam: Option<Exam>) -> Result<Ready, Problem> {
        // Before the log is touched.
        self.scenario.iter().map(PathBuf::as_path).chain([place]).for_each(input::reads);
        draft::check(&self.page)?;
        let (log, attempt) = Log::take_up(place, |attempt| {
            let number = attempt.exam.as_ref()?.number;
            let mut chain = Chain::begin(&exam.as_ref()?.secret, attempt, number);
            for timed in &attempt.acts {
                chain.act(timed);
            }
            Some(chain)
        })?;
        if attempt.exam.is_some() && exam.is_none() {
            return Err(Problem::usage(
                format!("{} is of an exam", shown(place)),
                "name its sealed file, too",
            ));
        }
        let sitting = attempt.exam.as_ref().map(|exam| exam.number);
        let scenario = match (&self.scenario, exam) {
            (_, Some(exam)) => Arc::new(exam.scenario),
            (Some(named), None) => lesson::scenario(named)?,
            (None, None) => lesson::scenario_of(&attempt).ok_or_else(|| {
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
        Ok(Ready { scenario, session, pseudonym: attempt.pseudonym, log, interrupted, sitting })
    }

    /// Tells how it went.
    fn told(
        &self,
        scenario: &Arc<Scenario>,
        attempt: &Attempt,
        log: &Path,
    ) -> Result<Exit, Problem> {
        let debrief = debrief(scenario, attempt, None).map_err(lesson::mismatch)?;
        output::print_by_screens(&output::wrapped(&format!("\n{}\n", debrief.to_text())))?;
        let named = self.scenario.as_deref().map_or_else(|| scenario.id.to_string(), typed);
        if log != Path::new(STANDARD) {
            // Whole, so that it can be copied.
            output::print(&format!(
                "Log: {}\nMark it again: tidewright mark {named} {}\n",
                shown(log),
                typed(log)
            ))?;
        }
        if let Some(page) = &self.page {
            lesson::write_page(scenario, attempt, &debrief, page)?;
            output::print(&format!("Page: {}\n", shown(page)))?;
        }
        if !self.no_history {
            let (day, passed) = (history::today(), debrief.marking.passed);
            let past = Past { scenario: scenario.id.to_string(), day, passed };
            let missed = debrief.marking.missed().join(" ");
            history::add(attempt.pseudonym.as_str(), &past, &missed)?;
        }
        Ok(Exit::Done)
    }
}

fn cannot_run(error: SessionError) -> Problem {
    Problem::usage(error.to_string(), "check the scenario")
}

/// A log under the first name that no file has yet: what was done before is not lost.
fn free_log(stem: &str, begun: &Begun, chain: Option<&Chain>) -> Result<Log, Problem> {
    let numbered = (2..).map(|number| format!("{stem}-{number}.attempt.ron"));
    let names = std::iter::once(format!("{stem}.attempt.ron")).chain(numbered);
    for path in names.map(PathBuf::from).filter(|path| !path.exists()) {
        match Log::begin(&path, begun.clone(), chain.cloned()) {
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
