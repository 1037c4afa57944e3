//! The studies: blocks of breaths, waveforms, cohorts, fits.

use std::hint::black_box;
use std::time::{Duration, Instant};

use tidewright_study::batch::{Block, Breaths, Samples, TwoNode, write_waveform};
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

/// Speeds of writing memory, bytes a second.
#[derive(Clone, Copy, Debug)]
pub struct Writing {
    /// Samples of each of the three signals.
    pub samples: usize,
    /// Filling the same three columns with a number.
    pub fill_b_s: f64,
    /// Writing the waveform into them.
    pub waveform_b_s: f64,
}

/// Writes `seconds` of the cat's pressure, flow and volume at 1,000 samples a second,
/// and fills the same memory with a number, by turns.
///
/// # Panics
/// If the cat is not plain, which would make the measurement void.
#[must_use]
pub fn writing(seconds: f64, rounds: u32) -> Writing {
    let plain = TwoNode::of(&cat::linear().start).expect("a plain machine");
    let samples = (seconds * 1000.0) as usize;
    let mut columns = [vec![0.0; samples], vec![0.0; samples], vec![0.0; samples]];
    let (mut fill, mut waveform) = (Duration::MAX, Duration::MAX);
    for round in 0..rounds {
        let value = f64::from(round) + 0.1;
        let filled = best(1, || {
            black_box(&mut columns).iter_mut().for_each(|column| column.fill(black_box(value)));
        });
        fill = fill.min(filled.0);
        let written = best(1, || {
            let [pressure_cmh2o, flow_ml_s, volume_ml] = black_box(&mut columns);
            let mut into = Samples { pressure_cmh2o, flow_ml_s, volume_ml };
            write_waveform(&plain, 1000.0, &mut into).expect("a waveform");
        });
        waveform = waveform.min(written.0);
    }
    let bytes = (3 * samples * size_of::<f64>()) as f64;
    let speed = |time: Duration| bytes / time.as_secs_f64();
    Writing { samples, fill_b_s: speed(fill), waveform_b_s: speed(waveform) }
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
