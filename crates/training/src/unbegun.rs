//! A log in which nothing is done yet.

use tidewright_scenario::format::{Attempt, Dealt, Id};

/// The log of a session of this version that nobody has begun.
pub(crate) fn unbegun(scenario: Id, seed: u32, pseudonym: Id, dealt: Option<Dealt>) -> Attempt {
    Attempt {
        format: 1,
        scenario,
        seed,
        engine: env!("CARGO_PKG_VERSION").to_owned(),
        model: Some(tidewright::MODEL_REVISION),
        pseudonym,
        dealt,
        ended_at_s: 0.0,
        acts: Vec::new(),
        asked: Vec::new(),
        waits: Vec::new(),
        exam: None,
        interrupted: Vec::new(),
        cut_off: None,
    }
}
