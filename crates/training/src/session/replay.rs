//! A session played again from its log: a pure function of scenario, attempt and
//! revision of the model. A version that only mends words plays old logs as they were.

use std::sync::Arc;

use thiserror::Error;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Attempt, Id, TimedAct};

use crate::session::{NotOpen, Passing, Session, SessionError};

/// A log that does not belong to the scenario, or that cannot be played.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ReplayError {
    /// The log is of another scenario.
    #[error("the attempt is of `{found}`, the scenario is `{expected}`")]
    OtherScenario {
        /// The scenario of the log.
        found: Id,
        /// The scenario given.
        expected: Id,
    },
    /// The log was kept under another revision of the model, whose numbers differ.
    #[error(
        "the attempt was logged by version {engine} under revision {found} of the model, and this \
         program has revision {expected}, which gives other numbers: mark it with a program of \
         revision {found}"
    )]
    OtherModel {
        /// The version of the program that kept the log.
        engine: String,
        /// The revision of the log.
        found: u32,
        /// This revision.
        expected: u32,
    },
    /// An act that was not open then.
    #[error("the act at {at_s} s was not open then: {source}")]
    NotOpen {
        /// When, s.
        at_s: f64,
        /// Why.
        source: NotOpen,
    },
    /// The session cannot be run.
    #[error(transparent)]
    Session(#[from] SessionError),
}

/// Plays an attempt to its end.
///
/// # Errors
/// [`ReplayError`].
pub fn replay(scenario: &Arc<Scenario>, attempt: &Attempt) -> Result<Session, ReplayError> {
    replay_watched(scenario, attempt, &mut |_| {})
}

/// As [`replay`]; `each` gets everything that passes, in order and once: for who draws
/// it.
///
/// # Errors
/// [`ReplayError`].
///
/// ```
/// use std::sync::Arc;
/// use tidewright_training::{Session, command, replay_watched};
/// let text = tidewright_shelf::lesson("rowan")?.text;
/// let scenario = Arc::new(tidewright_scenario::parse("rowan.ron", text)?);
/// let mut session = Session::new(Arc::clone(&scenario), 7)?;
/// session.play(30.0)?;
/// let attempt = session.attempt(command::pseudonym("heron-12")?);
/// let mut highest_mmhg = 0.0_f64;
/// replay_watched(&scenario, &attempt, &mut |passing| {
///     let shown = passing.gas.iter().map(|point| point.shown_carbon_dioxide_mmhg);
///     highest_mmhg = shown.fold(highest_mmhg, f64::max);
/// })?;
/// assert!(highest_mmhg > 30.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn replay_watched(
    scenario: &Arc<Scenario>,
    attempt: &Attempt,
    each: &mut dyn FnMut(&Passing<'_>),
) -> Result<Session, ReplayError> {
    played(scenario, attempt, Refused::IsAnError, each).map(|played| played.session)
}

/// An attempt that was played again.
#[derive(Debug)]
pub(crate) struct Played {
    /// The session at its end.
    pub session: Session,
    /// What it was when its case was about to begin, nothing of it done yet: where
    /// every other course of events branches off. `None` where it never came so far.
    pub at_onset: Option<Session>,
    /// What it was before anything took effect, where it never came to an onset.
    start: Option<Session>,
}

impl Played {
    /// The session once more, where its case begins or else at its start.
    pub fn again(&self) -> Result<Session, SessionError> {
        let from = self.at_onset.as_ref().or(self.start.as_ref()).unwrap_or(&self.session);
        from.with_its_case()
    }

    /// The session once more up to a time, from where its case begins or else from its
    /// start, without some of its acts. What was open only because of an act that is
    /// left out is left out with it.
    pub fn without(
        &self,
        leave_out: &dyn Fn(&TimedAct) -> bool,
        until_s: f64,
    ) -> Result<Session, SessionError> {
        let mut branch = self.again()?;
        let from_s = branch.now_s();
        let acts = self.session.acts().iter();
        for timed in acts.filter(|timed| (from_s..=until_s).contains(&timed.at_s)) {
            if leave_out(timed) {
                continue;
            }
            branch.play_to(timed.at_s)?;
            let _ = branch.act(timed.act.clone());
        }
        branch.play_to(until_s)?;
        Ok(branch)
    }
}

/// What becomes of an act that was not open at its time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Refused {
    /// The log does not belong to the scenario.
    IsAnError,
    /// Nothing was done, as in a live session.
    IsSkipped,
}

/// As [`replay`], with where the case begins, or would have begun.
pub(crate) fn replay_whole(
    scenario: &Arc<Scenario>,
    attempt: &Attempt,
    refused: Refused,
) -> Result<Played, ReplayError> {
    let mut played = played(scenario, attempt, refused, &mut |_| {})?;
    let onset_s = played.session.drawn().map(|drawn| drawn.onset_s);
    // Who ended before the case began is told what would have come.
    if let Some(onset_s) = onset_s.filter(|&onset_s| attempt.ended_at_s < onset_s) {
        let mut at_turn = kept_at(Some(onset_s), &mut played.at_onset);
        played.session.clone().play_watched(onset_s, &mut |_| {}, &mut at_turn)?;
    }
    Ok(played)
}

/// Keeps a session as it is at a time.
fn kept_at(time_s: Option<f64>, kept: &mut Option<Session>) -> impl FnMut(&Session) {
    move |session| {
        if time_s == Some(session.now_s()) {
            *kept = Some(session.clone());
        }
    }
}

fn played(
    scenario: &Arc<Scenario>,
    attempt: &Attempt,
    refused: Refused,
    each: &mut dyn FnMut(&Passing<'_>),
) -> Result<Played, ReplayError> {
    let mut at_onset = None;
    let mut session = acted(scenario, attempt, refused, each, &mut at_onset)?;
    let onset_s = session.drawn().map(|drawn| drawn.onset_s);
    // What was kept before the last act is not overwritten: the case begins once.
    let mut at_turn = kept_at(onset_s, &mut at_onset);
    session.play_watched(attempt.ended_at_s, each, &mut at_turn)?;
    drop(at_turn);
    let start = match &at_onset {
        Some(_) => None,
        None => {
            let dealt = attempt.dealt.clone();
            Some(Session::about_to_begin(scenario, attempt.seed, dealt)?)
        }
    };
    Ok(Played { session, at_onset, start })
}

/// The revision of the model that a log was kept under.
pub(crate) fn revision(attempt: &Attempt) -> u32 {
    attempt.model.unwrap_or(1)
}

/// Whether a log is of this scenario and of this version.
pub(crate) fn log_fits(scenario: &Scenario, attempt: &Attempt) -> Result<(), ReplayError> {
    let (found, expected) = (&attempt.scenario, &scenario.id);
    if found != expected {
        let (found, expected) = (found.clone(), expected.clone());
        return Err(ReplayError::OtherScenario { found, expected });
    }
    let (found, expected) = (revision(attempt), tidewright::MODEL_REVISION);
    if found != expected {
        return Err(ReplayError::OtherModel { engine: attempt.engine.clone(), found, expected });
    }
    Ok(())
}

/// Plays an attempt up to its last act, and keeps the session at its onset.
fn acted(
    scenario: &Arc<Scenario>,
    attempt: &Attempt,
    refused: Refused,
    each: &mut dyn FnMut(&Passing<'_>),
    at_onset: &mut Option<Session>,
) -> Result<Session, ReplayError> {
    log_fits(scenario, attempt)?;
    let mut session = Session::about_to_begin(scenario, attempt.seed, attempt.dealt.clone())?;
    let onset_s = session.drawn().map(|drawn| drawn.onset_s);
    let mut at_turn = kept_at(onset_s, at_onset);
    at_turn(&session);
    session.changes_due()?;
    for timed in &attempt.acts {
        session.play_watched(timed.at_s, each, &mut at_turn)?;
        if session.ended().is_some() && session.now_s() < timed.at_s {
            if refused == Refused::IsSkipped {
                break;
            }
            let source = NotOpen::Ended;
            return Err(ReplayError::NotOpen { at_s: timed.at_s, source });
        }
        let at_s = timed.at_s;
        let done = session.act_logged(timed);
        if refused == Refused::IsAnError {
            done.map_err(|source| ReplayError::NotOpen { at_s, source })?;
        }
    }
    Ok(session)
}

impl Session {
    /// Takes a session up again where its log was kept: the session that goes on is, to
    /// the last bit, the one that was left.
    ///
    /// # Errors
    /// [`ReplayError`].
    pub fn resume(scenario: &Arc<Scenario>, attempt: &Attempt) -> Result<Self, ReplayError> {
        Self::resume_watched(scenario, attempt, &mut |_| {})
    }

    /// As [`Session::resume`]; `each` gets everything that passes up to there.
    ///
    /// # Errors
    /// [`ReplayError`].
    pub fn resume_watched(
        scenario: &Arc<Scenario>,
        attempt: &Attempt,
        each: &mut dyn FnMut(&Passing<'_>),
    ) -> Result<Self, ReplayError> {
        let mut session = acted(scenario, attempt, Refused::IsAnError, each, &mut None)?;
        session.wait_again(attempt);
        // As a look: nothing was done there that would end a step.
        session.look_to(attempt.ended_at_s, each)?;
        Ok(session)
    }
}
