//! What a log says before anything is done.

use tidewright_scenario::format::{Attempt, Begun, Dealt, Id};

/// Whose session of this version a log is of.
pub(crate) fn begun(scenario: Id, seed: u32, pseudonym: Id, dealt: Option<Dealt>) -> Begun {
    Begun {
        format: 1,
        scenario,
        seed,
        engine: env!("CARGO_PKG_VERSION").to_owned(),
        model: Some(tidewright::MODEL_REVISION),
        pseudonym,
        dealt,
        sitting: None,
    }
}

/// The log of a session of this version that nobody has begun.
pub(crate) fn unbegun(scenario: Id, seed: u32, pseudonym: Id, dealt: Option<Dealt>) -> Attempt {
    begun(scenario, seed, pseudonym, dealt).into()
}
