//! The studies: blocks of breaths and cohorts.

use std::hint::black_box;
use std::time::{Duration, Instant};

use tidewright::prelude::*;
use tidewright::steady::one_breath;
use tidewright_study::batch::{Block, Breaths, TwoNode};
use tidewright_study::cohort::{Cohort, CohortFile, Summary, summarise};

use crate::cat;

/// Machines side by side.
pub const LANES: usize = 8;

/// The best of several rounds, and what the last of them gave.
pub fn best<T>(rounds: u32, mut run: impl FnMut() -> T) -> (Duration, T) {
    let start = Instant::now();
    let mut last = run();
    let mut best = start.elapsed();
    for _ in 1..rounds {
        let start = Instant::now();
        last = black_box(run());
        best = best.min(start.elapsed());
    }
    (best, last)
}

/// Inspiratory times of the cat's breaths, from a block of N of them: as many as
/// ten minutes hold.
///
/// # Panics
/// If the cat is not plain, which would make the measurement void.
#[must_use]
pub fn batch_times<const N: usize>(count: usize) -> Vec<f64> {
    let plain = TwoNode::of(&cat::linear().start).expect("a plain machine");
    let mut block = Block::new(&[plain; N]);
    let mut breaths = Breaths::default();
    let mut times = Vec::with_capacity(count);
    for _ in 0..count {
        block.breath(&mut breaths).expect("a breath");
        times.push(black_box(&breaths).inspiratory_time_s[N - 1]);
    }
    times
}

/// What a plain patient's ten breaths take on the exact road, one after the other on one
/// core, with the machine made ready for each: what a cohort would do without blocks.
///
/// # Panics
/// If a machine does not run, which would make the measurement void.
#[must_use]
pub fn by_the_general_road(patients: u32) -> Duration {
    let start = Instant::now();
    for patient in 0..patients {
        let mut setup = cat::linear().start;
        let share = 0.5 + f64::from(patient) / f64::from(patients);
        setup.lung.compartments[0].compliance = Compliance::ml_per_cmh2o(cat::LUNG * share);
        let machine = Machine::new(setup).expect("a machine that runs");
        let mut moment = Moment::at_rest(&machine);
        for _ in 0..10 {
            let (breath, next) = one_breath(&machine, &moment).expect("a breath");
            black_box(breath);
            moment = next;
        }
    }
    start.elapsed() / patients
}

/// A million patients, each measured in the tenth breath.
///
/// # Panics
/// If the cohort is not valid, which would make the measurement void.
#[must_use]
pub fn million() -> Cohort {
    let text = r#"Cohort(
        format: 1, id: "million", base: "demo.ron", patients: 1000000,
        vary: (
            compliance_ml_cmh2o: LogNormal(median: 5, log_sd: 0.25),
            resistance_cmh2o_s_l: LogNormal(median: 24, log_sd: 0.3),
        ),
        breath: Number(n: 10),
        targets: [(measure: InspiredTidalVolumePerKg, from: 8, to: 12)],
        harms: [(measure: PeakPressure, above: 25)],
    )"#;
    let file = CohortFile::parse("million.ron", text).expect("a valid cohort");
    let base = tidewright_scenario::parse("demo", tidewright_scenario::DEMO).expect("a scenario");
    Cohort::new(file, &base)
}

/// The time that the million take on all cores, and their summary.
#[must_use]
pub fn cohort(rounds: u32) -> (Duration, Summary) {
    let cohort = million();
    best(rounds, || summarise(&cohort, |_| ()))
}
