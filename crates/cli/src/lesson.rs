//! Lessons and attempts from files, and their debriefs into files.

use std::io::Write as _;
use std::path::Path;
use std::sync::Arc;

use tidewright::coupled::GasPoint;
use tidewright::run::Simulation;
use tidewright_figures::{Event, Look, Waveforms};
use tidewright_scenario::{Attempt, Scenario, parse_attempt};
use tidewright_training::debrief::{Debrief, said_act};
use tidewright_training::{ReplayError, Session, page, replay_watched};

use crate::draft::Draft;
use crate::input::{self, shown};
use crate::problem::Problem;

/// Longest part of a session that a figure shows, s.
const FIGURE_S: f64 = 90.0;

/// Reads a scenario that has a lesson.
pub fn scenario(path: &Path) -> Result<Arc<Scenario>, Problem> {
    let scenario = input::scenario(path)?;
    if scenario.training.is_none() {
        return Err(Problem::usage(
            format!("{} is no lesson: it has no `training` block", shown(path)),
            "name one of the files in scenarios/training",
        ));
    }
    Ok(Arc::new(scenario))
}

/// Reads the log of an attempt.
pub fn attempt(path: &Path) -> Result<Attempt, Problem> {
    let text = input::text(path)?;
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

/// The session around its onset: traces, onset, first sign and acts; with gas also what
/// the monitor of carbon dioxide showed.
fn figure(session: &Session, gas: &[GasPoint], debrief: &Debrief) -> Result<String, Problem> {
    let now_s = session.now_s();
    if now_s <= 1.0 {
        return Ok(String::new());
    }
    // Who ended before the onset sees what there was.
    let onset_s = debrief.marking.onset_s.filter(|&onset_s| onset_s <= now_s);
    let from_s = onset_s.map_or(0.0, |onset_s| (onset_s - 15.0).max(0.0));
    let to_s = (from_s + FIGURE_S).min(now_s);
    if to_s - from_s < 1.0 {
        return Ok(String::new());
    }
    let wrong = |error: String| Problem::usage(error, "check the scenario");
    let simulation = Simulation::new(&session.protocol()).map_err(|e| wrong(e.to_string()))?;
    let mut stretches = Vec::new();
    for stretch in session.stretches(&simulation) {
        let stretch = stretch.map_err(|e| wrong(e.to_string()))?;
        if stretch.piece.end_s() >= from_s && stretch.piece.start_s <= to_s {
            stretches.push(stretch);
        }
    }
    let trace = tidewright::trace::Trace { stretches };
    let scenario = session.scenario();
    let waveforms = Waveforms {
        id: scenario.id.to_string(),
        title: scenario.title.clone().unwrap_or_else(|| scenario.id.to_string()),
        events: events(session, debrief, from_s, to_s),
        ..Waveforms::from_run(&trace, from_s..to_s).with_gas(gas)
    };
    Ok(waveforms.figure(&Look::PAGE)?.to_svg())
}

fn events(session: &Session, debrief: &Debrief, from_s: f64, to_s: f64) -> Vec<Event> {
    let marking = &debrief.marking;
    let marks = [(marking.onset_s, "onset"), (marking.sign_s, "first sign")];
    let marks = marks
        .into_iter()
        .filter_map(|(at_s, label)| Some(Event { at_s: at_s?, label: label.to_owned() }));
    let acts = session.acts().iter();
    let acts = acts.map(|timed| Event { at_s: timed.at_s, label: said_act(&timed.act) });
    let mut events: Vec<Event> =
        marks.chain(acts).filter(|event| (from_s..=to_s).contains(&event.at_s)).collect();
    events.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    events
}
