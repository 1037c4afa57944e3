//! Marking: every criterion judged, safety apart from points.

use std::sync::Arc;

use serde::Serialize;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Attempt, Criterion, Line, Strand, Whom};

use crate::judge::detect::{Detection, detection};
use crate::judge::economy::{Needless, needless};
use crate::judge::harm::limits;
use crate::judge::measure::{Clues, judge, made_safe_s, times};
use crate::judge::sign::{Sign, first_sign};
use crate::session::replay::{Played, Refused, ReplayError, replay_whole};
use crate::session::{End, Session};
use crate::words::text::said;

/// When a case that shows no sign can be told from one that will, s after its onset (a
/// teaching choice).
const NO_SIGN_BY_S: f64 = 30.0;

/// As how many needless acts one counts that put the patient at risk (a teaching choice).
const RISK_COSTS: f64 = 2.0;

/// The objective of every limit of harm.
pub(crate) const NO_HARM: &str = "Does the patient no harm.";

/// The result of one attempt.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Marking {
    /// The scenario's `id`.
    pub scenario: String,
    /// The seed.
    pub seed: u32,
    /// Version of the engine that marked.
    pub engine: String,
    /// Revision of the model that it was played with.
    pub model: u32,
    /// The student's pseudonym.
    pub pseudonym: String,
    /// Whether every safety criterion is met, the points reach the pass mark, and the
    /// session was not ended before the story was over.
    pub passed: bool,
    /// Whether every safety criterion is met, the limits of harm among them, and the
    /// session was not handed over to the surgeon.
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
    /// How the student told the case from health, or health from a case.
    pub detection: Option<Detection>,
    /// Whether it went on until the story was over.
    pub complete: bool,
    /// The acts that nothing called for, in words.
    pub needless: Vec<String>,
    /// How the session ended.
    pub ended: &'static str,
    /// Every criterion.
    pub criteria: Vec<Judged>,
}

impl Marking {
    /// The strands of which something was missed, each once.
    #[must_use]
    pub fn missed(&self) -> Vec<&'static str> {
        let mut strands = Vec::new();
        for judged in self.criteria.iter().filter(|judged| !judged.met) {
            if !strands.contains(&judged.strand) {
                strands.push(judged.strand);
            }
        }
        strands
    }
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
    mark_played(&replay_whole(scenario, attempt, Refused::IsAnError)?, attempt, pass_percent)
}

/// Marks a session that was played again.
pub(crate) fn mark_played(
    played: &Played,
    attempt: &Attempt,
    pass_percent: Option<f64>,
) -> Result<Marking, ReplayError> {
    Ok(marking(played, attempt, sign_of(played)?.as_ref(), pass_percent))
}

/// The first sign of what went wrong.
pub(crate) fn sign_of(played: &Played) -> Result<Option<Sign>, ReplayError> {
    let found = played.at_onset.as_ref().map(first_sign).transpose()?.flatten();
    Ok(found.map(|(sign, ..)| sign))
}

pub(crate) fn marking(
    played: &Played,
    attempt: &Attempt,
    sign: Option<&Sign>,
    pass_percent: Option<f64>,
) -> Marking {
    let session = &played.session;
    let training = session.training();
    let drawn = session.drawn();
    let onset_s = drawn.map(|drawn| drawn.onset_s);
    let from_s = onset_s.unwrap_or(0.0);
    let clues = Clues {
        onset_s: from_s,
        sign_s: sign.map(|sign| sign.at_s),
        latest_s: from_s + NO_SIGN_BY_S,
        safe_s: made_safe_s(played, from_s),
    };
    let needless = needless(session);
    let mut criteria = judged(played, &clues);
    criteria.push(economy(session, &needless));
    let (end, complete) = stayed(session, attempt);
    criteria.extend(end);
    criteria.extend(harm(session));
    let points: f64 = criteria.iter().map(|judged| judged.points).sum();
    let points = points.max(0.0);
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
        model: crate::session::replay::revision(attempt),
        pseudonym: attempt.pseudonym.to_string(),
        passed: safe && complete && 100.0 * points >= pass_percent * points_of,
        safe,
        points,
        points_of,
        pass_percent,
        case: drawn.map(|drawn| drawn.case.says.clone()),
        onset_s,
        sign_s: sign.map(|sign| sign.at_s),
        sign: sign.map(|sign| sign.text.clone()),
        acted_s: acted.map(|timed| timed.at_s),
        detection: detection(session),
        complete,
        needless: needless.told,
        ended: ended(session.ended()),
        criteria,
    }
}

/// The lesson's own criteria for the case that was drawn.
fn judged(played: &Played, clues: &Clues) -> Vec<Judged> {
    let session = &played.session;
    let training = session.training();
    let case = session.drawn().map(|drawn| drawn.case.id.as_str());
    let own = training.criteria.iter().filter(|criterion| {
        let of = |one: &Line| Some(one.as_str()) == case;
        criterion.cases.is_empty() || criterion.cases.iter().any(of)
    });
    let judged = |criterion: &Criterion| {
        let verdict = judge(&criterion.measure, played, clues);
        let objective = training.objectives.iter().find(|one| one.id == criterion.objective);
        let points_of = if criterion.strand == Strand::Safety { 0.0 } else { criterion.points };
        Judged {
            objective: objective.map(|one| one.says.clone()).unwrap_or_default(),
            strand: strand(criterion.strand),
            measure: crate::judge::measure::in_words(&criterion.measure),
            met: verdict.met,
            found: verdict.found,
            wanted: verdict.wanted,
            points: if verdict.met { points_of } else { 0.0 },
            points_of,
        }
    };
    own.map(judged).collect()
}

/// What acts cost that nothing called for.
fn economy(session: &Session, needless: &Needless) -> Judged {
    let economy = &session.training().economy;
    // On a bench there is nobody to put at risk.
    let dear = if session.training().harm.to == Whom::Patient { RISK_COSTS } else { 1.0 };
    let all = needless.harmless as f64 + dear * needless.risky as f64;
    let beyond = (all - economy.spare).max(0.0);
    Judged {
        objective: "Does what is called for, and no more.".to_owned(),
        strand: strand(Strand::Action),
        measure: "acts that nothing called for".to_owned(),
        met: beyond == 0.0,
        found: match (needless.told.len(), needless.risky) {
            (all, 0) => times(all as f64),
            (all, risky) => format!("{}, {risky} of them at the patient's risk", times(all as f64)),
        },
        wanted: match economy.spare {
            0.0 => times(0.0),
            spare => format!("at most {}", times(spare)),
        },
        points: -beyond * economy.points_each,
        points_of: 0.0,
    }
}

/// Whether it went on until the story was over, with a criterion where it did not.
fn stayed(session: &Session, attempt: &Attempt) -> (Option<Judged>, bool) {
    let duration_s = session.scenario().duration_s;
    let enough_s = session.training().enough_s.unwrap_or(duration_s).min(duration_s);
    // A session that was handed over did not end too early: it ended badly.
    let complete = session.ended().is_some() || attempt.ended_at_s >= enough_s;
    let early = (!complete).then(|| Judged {
        objective: "Stays until the story is over.".to_owned(),
        strand: strand(Strand::Outcome),
        measure: "end of the session".to_owned(),
        met: false,
        found: format!("{} s", said(attempt.ended_at_s)),
        wanted: format!("at least {} s: an earlier end cannot pass", said(enough_s)),
        points: 0.0,
        points_of: 0.0,
    });
    (early, complete)
}

/// The limits of harm.
fn harm(session: &Session) -> impl Iterator<Item = Judged> {
    limits(session).into_iter().map(|limit| Judged {
        objective: NO_HARM.to_owned(),
        strand: strand(Strand::Safety),
        measure: limit.measure.to_owned(),
        met: limit.is_kept(),
        found: limit.found(),
        wanted: limit.wanted(),
        points: 0.0,
        points_of: 0.0,
    })
}

fn ended(end: Option<End>) -> &'static str {
    match end {
        Some(End::Time) => "the time was over",
        Some(End::HandedOverForPressure) => "handed to the surgeon: pressure in the lung",
        Some(End::HandedOverForApnoea) => "handed to the surgeon: no breath for too long",
        Some(End::HandedOverForSaturation) => "handed to the surgeon: too little oxygen",
        Some(End::HandedOverForCirculation) => "handed to the surgeon: no circulation",
        None => "the student ended it",
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
