//! What the tests share: running a setup, close enough, and random machines.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]
#![allow(dead_code, reason = "each test file uses its own part of this")]

pub mod live_runs;
pub mod machines;

use tidewright::prelude::*;

/// The finished breaths of a setup that runs unchanged.
pub fn run(setup: &Setup, duration_s: f64) -> Vec<Breath> {
    let duration = Seconds::s(duration_s);
    let protocol = Protocol { start: setup.clone(), changes: vec![], duration };
    Simulation::new(&protocol).unwrap().breaths().unwrap().0
}

/// A breath like all that follow: the last of two minutes.
pub fn steady(setup: &Setup) -> Breath {
    *run(setup, 120.0).last().unwrap()
}

/// The first pieces of a machine that runs unchanged for a minute.
pub fn first_pieces(machine: &Machine, count: usize) -> Vec<Piece<'_>> {
    let mut moment = Moment::at_rest(machine);
    let next = |_| {
        let done = step(machine, &moment, 60.0).unwrap();
        moment = done.next;
        done.piece
    };
    (0..count).map(next).collect()
}

/// Within 1e-12 s.
#[track_caller]
pub fn assert_time(shown: Seconds, exact_s: f64) {
    let miss = shown.as_s() - exact_s;
    assert!(miss.abs() < 1e-12, "{shown} is {miss:e} s off {exact_s} s");
}

/// Within 1e-10 of the volume.
#[track_caller]
pub fn assert_volume(shown: Volume, exact_ml: f64) {
    let miss = shown.as_ml() / exact_ml - 1.0;
    assert!(miss.abs() < 1e-10, "{shown} is {miss:e} of itself off {exact_ml} mL");
}
