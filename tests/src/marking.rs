//! One number that depends on every character of the marks of all lessons.
//!
//! It proves nothing about truth. It proves that an attempt is marked to the same
//! bits on every target, and it shows every change of a mark.

use std::sync::Arc;

use tidewright_scenario::{Attempt, Scenario, parse, parse_attempt};
use tidewright_training::{Judged, Marking, mark, vary};

use crate::golden::Fnv;

/// The hash that every target must give. A change that alters marks, lessons or
/// attempts on purpose alters this number too, in the same commit.
pub const MARKED: u64 = 0x3924_38bb_d8b6_0d00;

/// Every shipped lesson with its attempts.
const LESSONS: &[(&str, &[&str])] = include!(concat!(env!("OUT_DIR"), "/lessons.rs"));

/// FNV-1a (64 bits) over the marks of every attempt, with the scenario's own patient
/// and with the one that a class would be dealt.
#[derive(Clone, Copy, Debug)]
pub struct Hashes {
    /// Of every character of the marks.
    pub marks: u64,
    /// Of what is measured and judged in them, without the words around it.
    pub results: u64,
    /// Of the texts of lessons and attempts.
    pub lessons: u64,
    /// How many were marked.
    pub count: usize,
}

/// Marks every attempt.
#[must_use]
pub fn hashes() -> Hashes {
    let (mut marks, mut results, mut lessons) = (Fnv::default(), Fnv::default(), Fnv::default());
    let mut count = 0;
    for (lesson, attempts) in LESSONS {
        lessons.text(lesson);
        let scenario = Arc::new(parse("lesson.ron", lesson).expect("a valid lesson"));
        for attempt in *attempts {
            lessons.text(attempt);
            let attempt = parse_attempt("attempt.ron", attempt).expect("a valid attempt");
            let dealt = Attempt { dealt: vary(&scenario, attempt.seed), ..attempt.clone() };
            for attempt in [attempt, dealt] {
                let (said, measured) = marked(&scenario, &attempt);
                marks.text(&said);
                results.text(&measured);
                count += 1;
            }
        }
    }
    Hashes { marks: marks.0, results: results.0, lessons: lessons.0, count }
}

/// The marks of an attempt, and what they come to without words.
fn marked(scenario: &Arc<Scenario>, attempt: &Attempt) -> (String, String) {
    // What a dealt patient does not allow is told in the same words everywhere.
    let marking = match mark(scenario, attempt) {
        Ok(marking) => marking,
        Err(error) => return (error.to_string(), String::new()),
    };
    let said =
        serde_json::to_string(&marking).expect("numbers, texts and lists can always be written");
    (said, measured(&marking))
}

fn measured(marking: &Marking) -> String {
    let Marking { passed, safe, points, points_of, onset_s, sign_s, acted_s, .. } = marking;
    let mut all =
        format!("{passed} {safe} {points} {points_of} {onset_s:?} {sign_s:?} {acted_s:?}");
    for Judged { met, found, points, .. } in &marking.criteria {
        let number: String = found.chars().filter(char::is_ascii_digit).collect();
        all += &format!(" {met} {number} {points}");
    }
    all
}

/// What a program on wasm32 offers to its host: see `golden_wasm.mjs`.
#[cfg(target_family = "wasm")]
mod exports {
    #[allow(unsafe_code, reason = "an exported name is the only way to be called from outside")]
    #[unsafe(no_mangle)]
    extern "C" fn marking_hash() -> u64 {
        super::hashes().marks
    }

    #[allow(unsafe_code, reason = "an exported name is the only way to be called from outside")]
    #[unsafe(no_mangle)]
    extern "C" fn marking_expected() -> u64 {
        super::MARKED
    }
}
