//! A session played again from its log: a pure function of scenario, attempt
//! and engine version.

use std::sync::Arc;

use thiserror::Error;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Attempt, Id};

use crate::draw::Drawn;
use crate::session::{NotOpen, Session, SessionError};

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
    /// The log was kept by another version of the program, whose numbers may differ.
    #[error(
        "the attempt was logged by version {found}, this is {expected}: mark it with that version"
    )]
    OtherEngine {
        /// The version of the log.
        found: String,
        /// This version.
        expected: &'static str,
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
    let (found, expected) = (&attempt.scenario, &scenario.id);
    if found != expected {
        let (found, expected) = (found.clone(), expected.clone());
        return Err(ReplayError::OtherScenario { found, expected });
    }
    let expected = env!("CARGO_PKG_VERSION");
    if attempt.engine != expected {
        return Err(ReplayError::OtherEngine { found: attempt.engine.clone(), expected });
    }
    let mut session = Session::dealt(scenario, attempt.seed, attempt.dealt.clone())?;
    for timed in &attempt.acts {
        session.play_to(timed.at_s)?;
        if session.ended().is_some() && session.now_s() < timed.at_s {
            let source = NotOpen::Ended;
            return Err(ReplayError::NotOpen { at_s: timed.at_s, source });
        }
        let at_s = timed.at_s;
        session.act(timed.act.clone()).map_err(|source| ReplayError::NotOpen { at_s, source })?;
    }
    session.play_to(attempt.ended_at_s)?;
    Ok(session)
}

/// The same acts on a scenario as it was dealt with another case, or none, as far as they are open then; for
/// what might have been. Acts for which `keep` is false are left out.
pub(crate) fn replay_as(
    scenario: &Arc<Scenario>,
    attempt: &Attempt,
    drawn: Option<Drawn>,
    keep: impl Fn(f64) -> bool,
) -> Result<Session, SessionError> {
    let mut session = Session::with_case(Arc::clone(scenario), attempt.seed, drawn)?;
    for timed in attempt.acts.iter().filter(|timed| keep(timed.at_s)) {
        session.play_to(timed.at_s)?;
        // What is not open in the other course of events was not done in it.
        let _ = session.act(timed.act.clone());
    }
    Ok(session)
}
