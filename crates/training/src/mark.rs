//! Marking: every criterion judged, safety apart from points.

use std::sync::Arc;

use serde::Serialize;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Attempt, Strand};

use crate::measure::{Clues, judge, made_safe_s};
use crate::replay::{Played, ReplayError, replay_whole};
use crate::session::{End, Session};
use crate::sign::{Sign, first_sign};

/// The result of one attempt.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Marking {
    /// The scenario's `id`.
    pub scenario: String,
    /// The seed.
    pub seed: u32,
    /// Version of the engine that marked.
    pub engine: String,
    /// The student's pseudonym.
    pub pseudonym: String,
    /// Whether every safety criterion is met and the points reach the pass mark.
    pub passed: bool,
    /// Whether every safety criterion is met and the session was not handed over to
    /// the surgeon.
    pub safe: bool,
    /// Points got.
    pub points: f64,
    /// Points there are.
    pub points_of: f64,
    /// Pass mark, percent of the points.
    pub pass_percent: f64,
    /// The case that was drawn, in words.
    pub case: Option<String>,
    /// Its onset, s.
    pub onset_s: Option<f64>,
    /// The first visible sign, s.
    pub sign_s: Option<f64>,
    /// What the sign was.
    pub sign: Option<String>,
    /// The first act after the onset, s.
    pub acted_s: Option<f64>,
    /// How the session ended.
    pub ended: &'static str,
    /// Every criterion.
    pub criteria: Vec<Judged>,
}

/// One criterion, judged.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Judged {
    /// What its objective says.
    pub objective: String,
    /// Its strand.
    pub strand: &'static str,
    /// What is measured, in words.
    pub measure: String,
    /// Whether it is met.
    pub met: bool,
    /// What was found.
    pub found: String,
    /// What passes.
    pub wanted: String,
    /// Points got.
    pub points: f64,
    /// Points there are; safety criteria have none.
    pub points_of: f64,
}

/// Marks an attempt by the scenario's suggested pass mark.
///
/// # Errors
/// [`ReplayError`]: a log that does not belong to the scenario.
pub fn mark(scenario: &Arc<Scenario>, attempt: &Attempt) -> Result<Marking, ReplayError> {
    mark_with(scenario, attempt, None)
}

/// Marks an attempt by a pass mark of the educator's own, percent of the points.
///
/// # Errors
/// [`ReplayError`]: a log that does not belong to the scenario.
pub fn mark_with(
    scenario: &Arc<Scenario>,
    attempt: &Attempt,
    pass_percent: Option<f64>,
) -> Result<Marking, ReplayError> {
    let Played { session, at_onset } = replay_whole(scenario, attempt)?;
    let found = at_onset.as_ref().map(first_sign).transpose()?.flatten();
    let sign = found.as_ref().map(|(sign, ..)| sign);
    Ok(marking(&session, attempt, sign, pass_percent))
}

pub(crate) fn marking(
    session: &Session,
    attempt: &Attempt,
    sign: Option<&Sign>,
    pass_percent: Option<f64>,
) -> Marking {
    let training = session.training();
    let drawn = session.drawn();
    let onset_s = drawn.map(|drawn| drawn.onset_s);
    let clues = Clues {
        onset_s: onset_s.unwrap_or(0.0),
        sign_s: sign.map(|sign| sign.at_s),
        safe_s: made_safe_s(session, onset_s.unwrap_or(0.0)),
    };
    let criteria: Vec<Judged> = training
        .criteria
        .iter()
        .map(|criterion| {
            let verdict = judge(&criterion.measure, session, &clues);
            let objective = training.objectives.iter().find(|one| one.id == criterion.objective);
            let points_of = if criterion.strand == Strand::Safety { 0.0 } else { criterion.points };
            Judged {
                objective: objective.map(|one| one.says.clone()).unwrap_or_default(),
                strand: strand(criterion.strand),
                measure: crate::text::measure(&criterion.measure),
                met: verdict.met,
                found: verdict.found,
                wanted: verdict.wanted,
                points: if verdict.met { points_of } else { 0.0 },
                points_of,
            }
        })
        .collect();
    let points: f64 = criteria.iter().map(|judged| judged.points).sum();
    let points_of: f64 = criteria.iter().map(|judged| judged.points_of).sum();
    // Who had to be rescued was not safe, whatever the lesson's own criteria are.
    let rescued = session.ended().is_some_and(|end| end != End::Time);
    let met = |judged: &Judged| judged.met || judged.strand != strand(Strand::Safety);
    let safe = !rescued && criteria.iter().all(met);
    let pass_percent = pass_percent.unwrap_or(training.suggested_pass_percent);
    let acted = attempt.acts.iter().find(|timed| onset_s.is_some_and(|onset| timed.at_s >= onset));
    Marking {
        scenario: attempt.scenario.to_string(),
        seed: attempt.seed,
        engine: attempt.engine.clone(),
        pseudonym: attempt.pseudonym.to_string(),
        passed: safe && 100.0 * points >= pass_percent * points_of,
        safe,
        points,
        points_of,
        pass_percent,
        case: drawn.map(|drawn| drawn.case.says.clone()),
        onset_s,
        sign_s: sign.map(|sign| sign.at_s),
        sign: sign.map(|sign| sign.text.clone()),
        acted_s: acted.map(|timed| timed.at_s),
        ended: match session.ended() {
            Some(End::Time) => "the time was over",
            Some(End::HandedOverForPressure) => "handed to the surgeon: pressure in the lung",
            Some(End::HandedOverForApnoea) => "handed to the surgeon: no breath for too long",
            Some(End::HandedOverForSaturation) => "handed to the surgeon: too little oxygen",
            Some(End::HandedOverForCirculation) => "handed to the surgeon: no circulation",
            None => "the student ended it",
        },
        criteria,
    }
}

fn strand(strand: Strand) -> &'static str {
    match strand {
        Strand::Safety => "safety",
        Strand::Recognition => "recognition",
        Strand::Action => "action",
        Strand::Outcome => "outcome",
        Strand::Record => "record",
    }
}
