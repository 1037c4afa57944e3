//! One target for libFuzzer: `TIDEWRIGHT_TARGET` names which of ours.
#![no_main]

use std::sync::LazyLock;

use tidewright_fuzz::{TARGETS, Target};

static TARGET: LazyLock<&Target> = LazyLock::new(|| {
    let name = std::env::var("TIDEWRIGHT_TARGET").unwrap_or_default();
    TARGETS.iter().find(|target| target.name == name).expect("TIDEWRIGHT_TARGET names a target")
});

libfuzzer_sys::fuzz_target!(|data: &[u8]| (TARGET.run)(data));
