//! What is done with what the choices make.

use std::io::{self, Write as _};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use tidewright::run::Simulation;
use tidewright_figures::{FigureFile, Version};
use tidewright_scenario::format::{Begun, Entry, Moment};
use tidewright_scenario::read::{BlockShape, Read, Shape, any};
use tidewright_scenario::report::{self, CsvWaveform, JsonReport, Table};
use tidewright_scenario::{Attempt, Scenario, parse, parse_attempt};
use tidewright_study::cohort::{self, Cohort, CohortFile};
use tidewright_study::fit::{Columns, Record, fit};
use tidewright_training::class::{keys, roster, to_csv};
use tidewright_training::debrief::debrief;
use tidewright_training::{Session, parse_in, replay};

use crate::choices::Choices;
use crate::doors::{class, desk, swept};
use crate::mutate::mutate;
use crate::seeds::{COHORTS, FIGURES, LESSONS, SCENARIOS};

/// One way to look for faults.
#[derive(Debug)]
pub struct Target {
    /// Its name on the command line.
    pub name: &'static str,
    /// Executions that `.ci/run` does: together a minute.
    pub short: u64,
    /// The processor's time that one execution may take, s.
    pub most_s: u64,
    /// Panics where a library does not keep its word.
    pub run: fn(&[u8]),
}

/// All of them.
pub const TARGETS: [Target; 11] = [
    Target::new("parse", 12_000, |data| parse_and_write(&mut Choices::new(data))),
    Target::new("tables", 40_000, |data| tables(&mut Choices::new(data))),
    Target::new("run", 6000, |data| run(&mut Choices::new(data))),
    Target::new("session", 800, |data| session(&mut Choices::new(data))),
    Target::new("replay", 8000, |data| replayed(&mut Choices::new(data))),
    Target::new("desk", 2000, |data| desk(&mut Choices::new(data))),
    Target::new("class", 400, |data| class(&mut Choices::new(data))),
    Target::new("sweep", 1500, |data| swept(&mut Choices::new(data))),
    Target::new("figure", 600, |data| figure(&mut Choices::new(data))),
    Target::new("cohort", 800, |data| cohort(&mut Choices::new(data))),
    Target {
        most_s: 12,
        ..Target::new("ten-minutes", 150, |data| ten_minutes(&mut Choices::new(data)))
    },
];

impl Target {
    const fn new(name: &'static str, short: u64, run: fn(&[u8])) -> Self {
        Self { name, short, most_s: 5, run }
    }
}

static SHOWN: AtomicBool = AtomicBool::new(false);

/// From now on every text is printed before a library gets it, to look at a find.
pub fn show() {
    SHOWN.store(true, Ordering::Relaxed);
}

/// Longest simulated time, s, and most stretches of it: a budget for one execution.
const LONGEST_S: f64 = 20.0;
const MOST_STRETCHES: usize = 2000;

fn block<T: Read>() -> Option<&'static BlockShape> {
    match T::describe("", &any()) {
        Shape::Block(block) => Some(block),
        _ => None,
    }
}

/// A text of this kind, changed a little.
pub fn mutated<T: Read>(text: &str, choices: &mut Choices<'_>) -> String {
    let mut text = text.to_owned();
    mutate(&mut text, block::<T>(), choices);
    seen(text)
}

pub(crate) fn seen(text: String) -> String {
    if SHOWN.load(Ordering::Relaxed) {
        let _ = writeln!(io::stdout(), "{text}\n");
    }
    text
}

/// A scenario, mostly one that is valid.
pub(crate) fn scenario(choices: &mut Choices<'_>) -> Option<Scenario> {
    let seed = choices.one(&SCENARIOS);
    parse("any.ron", &mutated::<Scenario>(seed, choices)).ok()
}

/// What is read is written so that it is read again, in both ways of writing; what is
/// refused says why.
fn parse_and_write(choices: &mut Choices<'_>) {
    let lesson = choices.one(&LESSONS);
    let text = match choices.below(4) {
        0 => mutated::<Scenario>(&lesson.text, choices),
        1 => {
            let text = mutated::<Attempt>(choices.one::<String>(&lesson.attempts), choices);
            if let Ok(attempt) = parse_attempt("any.ron", &text) {
                assert_eq!(parse_attempt("a.ron", &attempt.to_ron()).as_ref().ok(), Some(&attempt));
                assert_eq!(
                    parse_attempt("a.json", &attempt.to_json()).as_ref().ok(),
                    Some(&attempt)
                );
            }
            text
        }
        2 => {
            let text = mutated::<CohortFile>(choices.one::<String>(&COHORTS), choices);
            drop(CohortFile::parse("any.ron", &text));
            text
        }
        _ => mutated::<Scenario>(choices.one::<String>(&SCENARIOS), choices),
    };
    let name = if choices.once_in(8) { "any.json" } else { "any.ron" };
    match parse(name, &text) {
        Ok(scenario) => {
            assert_eq!(parse("a.ron", &scenario.to_ron()).as_ref().ok(), Some(&scenario));
            assert_eq!(parse("a.json", &scenario.to_json()).as_ref().ok(), Some(&scenario));
        }
        Err(rejected) => {
            assert!(!rejected.faults().is_empty());
            for fault in rejected.faults() {
                assert!(rejected.place(fault).line >= 1 && !fault.mend().is_empty());
            }
        }
    }
}

fn tables(choices: &mut Choices<'_>) {
    const SEEDS: [&str; 3] = [
        "pseudonym,bench\nheron-1,1\nTeal,2\nswan-4,3\n",
        "pseudonym,seed,weight_kg,severity_factor,case,onset_s\nheron,7,4.2,1,a leak,30.5\nteal,8,4,1,,\n",
        "t_s;Paw (mbar);Flow (L/min)\n0;5,0;6\n0,01;5,5;12\n0,02;5,9;12\n0,03;6;0\n0,04;5;-12\n0,05;5;-3\n\
         0,06;5,0;6\n0,07;5,5;12\n0,08;5,9;12\n0,09;6;0\n0,10;5;-12\n0,11;5;-3\n0,12;5;-1\n",
    ];
    let mut text = (*choices.one(&SEEDS)).to_owned();
    mutate(&mut text, None, choices);
    let text = seen(text);
    if let Ok(keys_read) = keys(&text) {
        assert_eq!(keys(&to_csv(&keys_read)).as_ref(), Ok(&keys_read));
    }
    if let Err(error) = roster(&text) {
        assert!(!error.0.is_empty());
    }
    if let Ok(record) = Record::read(text.as_bytes(), &Columns::default()) {
        drop(fit(&record));
    }
}

fn run(choices: &mut Choices<'_>) {
    let Some(mut scenario) = scenario(choices) else { return };
    scenario.duration_s = scenario.duration_s.min(LONGEST_S);
    scenario.timeline.retain(|entry| entry.at_s < scenario.duration_s);
    let Ok(simulation) = Simulation::new(&scenario.protocol()) else { return };
    let mut table = Table::new(&scenario);
    let mut json = JsonReport::begin(io::sink(), &scenario).expect("nothing is written");
    let mut csv = CsvWaveform::begin(io::sink(), &scenario, 50.0).expect("the rate is usual");
    let mut stretches = 0;
    let ending = report::watch(&scenario, &simulation, |progress| {
        stretches += 1;
        if stretches > MOST_STRETCHES {
            return Err(io::Error::other("the budget is spent"));
        }
        table.progress(progress);
        csv.progress(progress)?;
        json.progress(progress)
    });
    if let Ok(ending) = ending {
        json.end(&ending).expect("nothing is written");
        assert!(!ending.story.is_empty() && !table.within(80).lines.is_empty());
    }
}

/// Ten minutes of a scenario, mostly one that is valid. What takes longer than it may is a
/// find.
fn ten_minutes(choices: &mut Choices<'_>) {
    let text = scenario_or_lesson(choices);
    if let Ok(scenario) = parse("any.ron", &mutated::<Scenario>(&text, choices)) {
        // A run that cannot go on says so; what counts is how long that took.
        let _ = run_ten_minutes(scenario);
    }
}

/// A shipped scenario or lesson.
pub fn scenario_or_lesson(choices: &mut Choices<'_>) -> String {
    match choices.once_in(3) {
        true => choices.one(&LESSONS).text.clone(),
        false => choices.one::<String>(&SCENARIOS).clone(),
    }
}

/// Runs ten minutes of a scenario, with its table; in how many stretches, or what refused.
pub fn run_ten_minutes(mut scenario: Scenario) -> Result<usize, String> {
    scenario.duration_s = 600.0;
    let simulation = Simulation::new(&scenario.protocol()).map_err(|error| error.to_string())?;
    let mut table = Table::new(&scenario);
    let mut stretches = 0;
    let ending = report::watch(&scenario, &simulation, |progress| {
        stretches += 1;
        table.progress(progress);
        Ok(())
    });
    ending.map(|_| stretches).map_err(|error| error.to_string())
}

/// A session of random acts is the same when it is taken up from its log half-way.
fn session(choices: &mut Choices<'_>) {
    let lesson = choices.one(&LESSONS);
    let text = match choices.once_in(3) {
        true => mutated::<Scenario>(&lesson.text, choices),
        false => lesson.text.clone(),
    };
    let Ok(scenario) = parse("any.ron", &text).map(Arc::new) else { return };
    let Ok(mut session) = Session::new(Arc::clone(&scenario), choices.below(64) as u32) else {
        return;
    };
    for _ in 0..choices.below(12) {
        let word = choices.one(&tidewright_training::command::WORDS);
        let value = ["", "1", "0.5", "12", "ventilating", "standby", "up", "a 1"][choices.below(8)];
        if let Ok(act) = parse_in(&session, &format!("{} {value}", word.1)) {
            // What cannot be done now says so, and nothing has changed.
            let before = session.acts().len();
            if session.act(act).is_err() {
                assert_eq!(session.acts().len(), before);
            }
        }
        let next_s = session.now_s() + [0.0, 0.1, 1.0, 3.7][choices.below(4)];
        if session.advance(next_s, &mut |_| {}).is_err() {
            return;
        }
        if choices.once_in(4) {
            let log = session.attempt(scenario.id.clone());
            let read = parse_attempt("log.ron", &log.to_ron()).expect("a log can be read");
            let again = replay(&scenario, &read).expect("a log can be replayed");
            assert_eq!(again.now_s().to_bits(), session.now_s().to_bits());
            assert_eq!(again.acts(), session.acts());
            session = again;
        }
    }
    let log = session.attempt(scenario.id.clone());
    let told = debrief(&scenario, &log, None).expect("a log can be marked");
    assert!(!told.to_text().is_empty());
}

fn replayed(choices: &mut Choices<'_>) {
    let lesson = choices.one(&LESSONS);
    let Ok(scenario) = parse("lesson.ron", &lesson.text).map(Arc::new) else { return };
    let log = choices.one::<String>(&lesson.attempts);
    let text = match choices.once_in(3) {
        true => journal(log, choices),
        false => mutated::<Attempt>(log, choices),
    };
    let Ok(mut attempt) = parse_attempt("any.ron", &text) else { return };
    attempt.ended_at_s = attempt.ended_at_s.min(3.0 * LONGEST_S);
    attempt.acts.retain(|timed| timed.at_s <= attempt.ended_at_s);
    if let Ok(told) = debrief(&scenario, &attempt, None) {
        assert!(told.marking.points <= told.marking.points_of);
    }
}

/// The same attempt as a session writes it down while it goes on, changed a little.
pub(crate) fn journal(log: &str, choices: &mut Choices<'_>) -> String {
    let Attempt { scenario, seed, engine, model, pseudonym, dealt, acts, ended_at_s, .. } =
        parse_attempt("log.ron", log).expect("a log of the project can be read");
    let begun = Begun { format: 1, scenario, seed, engine, model, pseudonym, dealt, sitting: None };
    let clock = |at_s| Entry::Clock(Moment { at_s });
    let did = acts.into_iter().flat_map(|timed| [clock(timed.at_s), Entry::Did(timed)]);
    let lines = [Entry::Journal(begun)].into_iter().chain(did).chain([clock(ended_at_s)]);
    let mut text: String = lines.map(|entry| entry.to_line()).collect();
    mutate(&mut text, None, choices);
    seen(text)
}

fn figure(choices: &mut Choices<'_>) {
    let (figure, scenario) = choices.one(&FIGURES);
    let Ok(mut scenario) = parse("scenario.ron", scenario) else { return };
    scenario.duration_s = scenario.duration_s.min(LONGEST_S);
    scenario.timeline.retain(|entry| entry.at_s < scenario.duration_s);
    let text = mutated::<FigureFile>(figure, choices);
    let Ok(file) = FigureFile::parse_for("any.ron", &text, &scenario) else { return };
    let version = if choices.once_in(2) { Version::Student } else { Version::Teacher };
    if let Ok(figure) = file.draw(&scenario, version) {
        assert!(figure.to_svg().ends_with("</svg>\n"));
        assert!(!figure.description().is_empty() && !figure.to_csv().is_empty());
    }
}

fn cohort(choices: &mut Choices<'_>) {
    let Ok(mut file) = CohortFile::parse(
        "any.ron",
        &mutated::<CohortFile>(choices.one::<String>(&COHORTS), choices),
    ) else {
        return;
    };
    let Some(base) = scenario(choices).filter(|base| !base.begins_with_drive()) else { return };
    file.patients = file.patients.min(3);
    if let Some(gas) = &mut file.gas {
        gas.duration_s = gas.duration_s.min(30.0 * LONGEST_S);
    }
    let cohort = Cohort::new(file, &base);
    let mut rows = Vec::new();
    let written = cohort::write(&cohort, cohort::Resume::from_scratch(), &mut rows, |_| ());
    let summary = written.expect("a list takes all that is written");
    let cut = choices.below(rows.len() + 1);
    let left = cohort::resume(&cohort, &rows[..cut]).expect("an own table is taken up again");
    let mut again = rows[..left.bytes as usize].to_vec();
    let resumed = cohort::write(&cohort, left, &mut again, |_| ());
    assert_eq!(resumed.expect("a list takes all that is written"), summary);
    assert_eq!(again, rows);
}
