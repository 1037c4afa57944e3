//! The same bits on every target.
//!
//! This runs natively, in whatever profile the tests are built. The same code on
//! wasm32 is one command more, as it needs that target and node; it tells both hashes:
//!
//! ```text
//! rustup target add wasm32-unknown-unknown
//! cargo rustc -p tidewright-tests --lib --release --crate-type cdylib \
//!     --target wasm32-unknown-unknown
//! node tests/golden_wasm.mjs target/wasm32-unknown-unknown/release/tidewright_tests.wasm
//! ```

use tidewright_tests::golden::{GOLDEN, hash};
use tidewright_tests::marking::{self, MARKED};

/// Every revision of the model with the hash of its runs. Results have changed? Raise
/// `tidewright::MODEL_REVISION` by one, add the line that the failure prints, prove the
/// lessons anew and let `.ci/remodel` say so in the shipped attempts.
const REVISIONS: &[(u32, u64)] = &[
    (1, 0x5b31_5716_f1ca_cbcf),
    (2, 0xc304_a344_568a_ae17),
    (3, 0xcf74_7e01_fb9a_01b8),
    (4, 0x8638_fe9b_3a5d_3aa4),
    (5, 0x6fff_8371_c580_448e),
];

/// Under which revision these lessons and attempts (the first hash) came to these
/// results (the second). Other lessons may come to others; the same may not, unless the
/// revision rises.
const LESSONS: (u32, u64, u64) = (5, 0x0ad3_a22b_71c3_1bb7, 0x306b_1f7b_f72d_bc03);

#[test]
fn regress_results_change_only_with_the_revision_of_the_model() {
    let line = (tidewright::MODEL_REVISION, GOLDEN);
    let last = &REVISIONS[REVISIONS.len() - 1];
    assert!(*last == line, "raise MODEL_REVISION and add: ({}, {GOLDEN:#018x})", last.0 + 1);
    let grows = |pair: &[(u32, u64)]| pair[0].0 + 1 == pair[1].0 && pair[0].1 != pair[1].1;
    assert!(REVISIONS.windows(2).all(grows));
}

#[test]
fn regress_a_mixed_set_of_runs_keeps_every_bit() {
    let hash = hash();
    assert_eq!(hash, GOLDEN, "the runs now hash to {hash:#018x}");
}

#[test]
fn regress_every_attempt_of_every_lesson_marks_to_the_same_bits() {
    let marking::Hashes { marks, results, lessons, count } = marking::hashes();
    assert!(count >= 90, "only {count} attempts were marked");
    let revision = tidewright::MODEL_REVISION;
    let line =
        format!("const LESSONS: (u32, u64, u64) = ({revision}, {lessons:#x}, {results:#x});");
    let same_lessons = (revision, lessons) == (LESSONS.0, LESSONS.1);
    assert!(
        !same_lessons || results == LESSONS.2,
        "the same lessons come to other results: raise MODEL_REVISION; then {line}"
    );
    assert_eq!(LESSONS, (revision, lessons, results), "{line}");
    assert_eq!(marks, MARKED, "the {count} marks now hash to {marks:#018x}");
}
