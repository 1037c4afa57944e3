//! Lessons and attempts from files, and their debriefs into files.

use std::io::Write as _;
use std::path::Path;
use std::sync::Arc;

use tidewright::coupled::GasPoint;
use tidewright::run::Simulation;
use tidewright_figures::RunFigure;
use tidewright_scenario::{Attempt, Scenario, parse_attempt};
use tidewright_shelf::{LESSONS, Lesson};
use tidewright_training::debrief::Debrief;
use tidewright_training::{ReplayError, Scene, Session, page, replay_watched};

use crate::files::draft::Draft;
use crate::files::input::{self, shown};
use crate::files::problem::Problem;

/// Reads a scenario that has a lesson: a file, or one that the program has inside, by its
/// name, the beginning of its name, or its number.
pub fn scenario(path: &Path) -> Result<Arc<Scenario>, Problem> {
    if let Some(word) = word(path) {
        return match tidewright_shelf::lesson(word) {
            Ok(lesson) => Ok(inside(lesson)),
            Err(error) => {
                Err(Problem::usage(error.to_string(), "`tidewright learn` lists the lessons"))
            }
        };
    }
    let scenario = input::scenario(path)?;
    if scenario.training.is_none() {
        return Err(Problem::usage(
            format!("{} is no lesson: it has no `training` block", shown(path)),
            "name one of the files in scenarios/training",
        ));
    }
    Ok(Arc::new(scenario))
}

/// The lesson inside that a log is of.
pub fn scenario_of(attempt: &Attempt) -> Option<Arc<Scenario>> {
    let id = attempt.scenario.as_str();
    LESSONS.iter().find(|lesson| lesson.id == id).map(inside)
}

/// Every lesson inside, in order.
pub fn all_inside() -> Vec<Scenario> {
    LESSONS.iter().map(|lesson| Arc::unwrap_or_clone(inside(lesson))).collect()
}

fn inside(lesson: &Lesson) -> Arc<Scenario> {
    let scenario = tidewright_scenario::parse(lesson.id, lesson.text);
    Arc::new(scenario.expect("what is inside was checked when it was built"))
}

/// Whether a lesson inside was named, and not a file.
pub fn is_word(path: &Path) -> bool {
    word(path).is_some()
}

/// What was typed, where it can only mean a lesson inside: no file, and no name of one.
fn word(path: &Path) -> Option<&str> {
    let word = path.to_str()?;
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
    (word.chars().all(plain) && word != "-" && !path.exists()).then_some(word)
}

/// Reads the log of an attempt.
pub fn attempt(path: &Path) -> Result<Attempt, Problem> {
    let text = input::log_text(path)?;
    Ok(parse_attempt(&shown(path), &text)?)
}

/// A log that does not go with the scenario.
pub fn mismatch(error: ReplayError) -> Problem {
    Problem::usage(error.to_string(), "mark an attempt with the scenario it was made with")
}

/// Writes a debrief as a page with the figure of its session.
pub fn write_page(
    scenario: &Arc<Scenario>,
    attempt: &Attempt,
    debrief: &Debrief,
    target: &Path,
) -> Result<(), Problem> {
    let mut gas = Vec::new();
    let session = replay_watched(scenario, attempt, &mut |passing| {
        gas.extend_from_slice(passing.gas);
    });
    let svg = figure(&session.map_err(mismatch)?, &gas, debrief)?;
    let mut draft = Draft::begin(target)?;
    draft.write_all(page(debrief, &svg).as_bytes())?;
    draft.publish()
}

/// The scene of a session as SVG; nothing where it was too short to show anything.
fn figure(session: &Session, gas: &[GasPoint], debrief: &Debrief) -> Result<String, Problem> {
    let Some(Scene { window_s, events }) = Scene::of(session, debrief) else {
        return Ok(String::new());
    };
    let wrong = |error: String| Problem::usage(error, "check the scenario");
    let simulation = Simulation::new(&session.protocol()).map_err(|e| wrong(e.to_string()))?;
    let mut figure = RunFigure::of(window_s);
    for stretch in session.stretches(&simulation) {
        figure.take(&stretch.map_err(|e| wrong(e.to_string()))?, &[]);
    }
    figure.take_gas(gas);
    Ok(figure.draw_session(session.scenario(), events)?.to_svg())
}
