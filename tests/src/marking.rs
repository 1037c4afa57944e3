//! One number that depends on every character of the marks of all lessons.
//!
//! It proves nothing about truth. It proves that an attempt is marked to the same
//! bits on every target, and it shows every change of a mark.

use std::sync::Arc;

use tidewright_scenario::{Attempt, Scenario, parse, parse_attempt};
use tidewright_training::{mark, vary};

use crate::golden::Fnv;

/// The hash that every target must give. A change that alters marks, lessons or
/// attempts on purpose alters this number too, in the same commit.
pub const MARKED: u64 = 0x05b9_0494_c474_cb35;

/// Every shipped lesson with its attempts.
const LESSONS: &[(&str, &[&str])] = include!(concat!(env!("OUT_DIR"), "/lessons.rs"));

/// FNV-1a (64 bits) over the marks of every attempt, with the scenario's own patient
/// and with the one that a class would be dealt; and how many were marked.
#[must_use]
pub fn hash() -> (u64, usize) {
    let mut hash = Fnv::default();
    let mut count = 0;
    for (lesson, attempts) in LESSONS {
        let scenario = Arc::new(parse("lesson.ron", lesson).expect("a valid lesson"));
        for attempt in *attempts {
            let attempt = parse_attempt("attempt.ron", attempt).expect("a valid attempt");
            let dealt = Attempt { dealt: vary(&scenario, attempt.seed), ..attempt.clone() };
            for attempt in [attempt, dealt] {
                hash.text(&marked(&scenario, &attempt));
                count += 1;
            }
        }
    }
    (hash.0, count)
}

fn marked(scenario: &Arc<Scenario>, attempt: &Attempt) -> String {
    // What a dealt patient does not allow is told in the same words everywhere.
    let marking = match mark(scenario, attempt) {
        Ok(marking) => marking,
        Err(error) => return error.to_string(),
    };
    serde_json::to_string(&marking).expect("numbers, texts and lists can always be written")
}

/// What a program on wasm32 offers to its host: see `golden_wasm.mjs`.
#[cfg(target_family = "wasm")]
mod exports {
    #[allow(unsafe_code, reason = "an exported name is the only way to be called from outside")]
    #[unsafe(no_mangle)]
    extern "C" fn marking_hash() -> u64 {
        super::hash().0
    }

    #[allow(unsafe_code, reason = "an exported name is the only way to be called from outside")]
    #[unsafe(no_mangle)]
    extern "C" fn marking_expected() -> u64 {
        super::MARKED
    }
}
