//! The same bits on every target.
//!
//! This runs natively, in whatever profile the tests are built. The same code on
//! wasm32 is one command more, as it needs that target and node:
//!
//! ```text
//! rustup target add wasm32-unknown-unknown
//! cargo rustc -p tidewright-tests --lib --release --crate-type cdylib \
//!     --target wasm32-unknown-unknown
//! node tests/golden_wasm.mjs target/wasm32-unknown-unknown/release/tidewright_tests.wasm
//! ```

use tidewright_tests::golden::{GOLDEN, hash};

#[test]
fn regress_a_mixed_set_of_runs_keeps_every_bit() {
    let hash = hash();
    assert_eq!(hash, GOLDEN, "the runs now hash to {hash:#018x}");
}
