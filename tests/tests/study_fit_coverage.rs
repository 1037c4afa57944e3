//! In how many of many recordings the truth lies within the intervals of a fit, for each
//! thing that recorders do. `FITS=1000 cargo test --release --test study_fit_coverage --
//! --nocapture` prints the table.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use rand::Rng;
use rayon::prelude::*;
use tidewright::machine::Signal;
use tidewright::prelude::*;
use tidewright::random::{generator, standard_normal};
use tidewright::trace::Sampler;
use tidewright_study::fit::{Estimate, Fit, Record, Warning, fit};

const COMPLIANCE: f64 = 5.0;
const RESISTANCE: f64 = 30.0;
const BASELINE: f64 = 2.0;

/// What a recorder does to the samples.
#[derive(Clone, Copy, Debug)]
struct Recorder {
    name: &'static str,
    rate: f64,
    /// Of pressure, flow and volume; standard deviations.
    noise: [f64; 3],
    /// Whether the volume has a column.
    volume: bool,
    jitter_s: f64,
    flow_zero_ml_s: f64,
    drift_cmh2o: f64,
    step_cmh2o: f64,
    /// The warning that names the cause in most of the fits.
    named: Option<fn(&Warning) -> bool>,
}

const CLEAN: Recorder = Recorder {
    name: "noise, volume recorded",
    rate: 100.0,
    noise: [0.1, 1.0, 0.3],
    volume: true,
    jitter_s: 0.0,
    flow_zero_ml_s: 0.0,
    drift_cmh2o: 0.0,
    step_cmh2o: 0.0,
    named: None,
};
const BARE: Recorder = Recorder { name: "noise, volume integrated", volume: false, ..CLEAN };
const DRIFTS: Option<fn(&Warning) -> bool> = Some(|w| matches!(w, Warning::Drift { .. }));
const ZERO: Option<fn(&Warning) -> bool> = Some(|w| matches!(w, Warning::FlowZero { .. }));
const COARSE: Option<fn(&Warning) -> bool> = Some(|w| matches!(w, Warning::Coarse { .. }));
const STEPS: Option<fn(&Warning) -> bool> = Some(|w| matches!(w, Warning::Steps { .. }));
const JITTERS: Option<fn(&Warning) -> bool> = Some(|w| matches!(w, Warning::Jitter { .. }));

fn recorders() -> Vec<Recorder> {
    vec![
        CLEAN,
        BARE,
        Recorder { name: "little noise, integrated", noise: [0.03, 0.2, 0.0], ..BARE },
        Recorder { name: "jitter 3 ms, recorded", jitter_s: 0.003, ..CLEAN },
        Recorder { name: "jitter 3 ms, integrated", jitter_s: 0.003, named: JITTERS, ..BARE },
        Recorder { name: "flow zero 1 mL/s, recorded", flow_zero_ml_s: 1.0, named: ZERO, ..CLEAN },
        Recorder {
            name: "flow zero 1 mL/s, integrated",
            flow_zero_ml_s: 1.0,
            named: DRIFTS,
            ..BARE
        },
        Recorder { name: "drift 0.5 cmH2O, recorded", drift_cmh2o: 0.5, named: DRIFTS, ..CLEAN },
        Recorder { name: "drift 0.5 cmH2O, integrated", drift_cmh2o: 0.5, ..BARE },
        Recorder { name: "steps 0.5 cmH2O, recorded", step_cmh2o: 0.5, named: STEPS, ..CLEAN },
        Recorder { name: "steps 0.5 cmH2O, integrated", step_cmh2o: 0.5, named: STEPS, ..BARE },
        Recorder {
            name: "steps 0.5 cmH2O, no noise before",
            step_cmh2o: 0.5,
            noise: [0.0, 0.2, 0.1],
            named: STEPS,
            ..CLEAN
        },
        Recorder { name: "20 a second, recorded", rate: 20.0, ..CLEAN },
        Recorder { name: "20 a second, integrated", rate: 20.0, named: COARSE, ..BARE },
        Recorder { name: "10 a second, integrated", rate: 10.0, named: COARSE, ..BARE },
    ]
}

/// Of R and C, 0.93 to 0.97 of 1,000 fits; of fewer, what 0.95 gives within 3.3 standard
/// deviations of chance. An interval that is enlarged by a bound may hold more: that of the
/// baseline by what the flow's zero may be off, all by steps of the recorder.
#[test]
fn closed_form_intervals_hold_the_truth_whatever_a_recorder_does() {
    let fits: u64 = std::env::var("FITS").map_or(80, |fits| fits.parse().unwrap());
    let count = fits as f64;
    let chance = (3.3 * (0.95 * 0.05 / count).sqrt()).max(0.02);
    println!("{:<34} {:>5} {:>5} {:>5}  named", "", "R", "C", "P0");
    let mut wrong = Vec::new();
    for (seed, recorder) in recorders().iter().enumerate() {
        let runs: Vec<([bool; 3], bool, bool)> = (0..fits)
            .into_par_iter()
            .map(|run| {
                let (record, baseline) = recorder.record(1_000_000 * (seed as u64 + 1) + run);
                let fit: Fit = fit(&record).unwrap();
                let holds = |estimate: Estimate, truth: f64| {
                    (estimate.value - truth).abs() <= 1.96 * estimate.standard_error
                };
                let held = [
                    holds(fit.refined.resistance_cmh2o_s_l, RESISTANCE),
                    holds(fit.refined.compliance_ml_cmh2o, COMPLIANCE),
                    holds(fit.refined.baseline_cmh2o, baseline),
                ];
                let told = fit.refined.resistance_cmh2o_s_l.standard_error.is_finite();
                (held, recorder.named.is_some_and(|named| fit.warnings.iter().any(named)), told)
            })
            .collect();
        // An interval that is withheld is none.
        let told: Vec<_> = runs.iter().filter(|run| run.2).collect();
        if told.len() < runs.len() / 2 {
            println!("{:<34} withheld", recorder.name);
            let named = runs.iter().filter(|run| run.1).count();
            assert_eq!((told.len(), named), (0, runs.len()), "{}", recorder.name);
            continue;
        }
        let share =
            |i: usize| told.iter().filter(|run| run.0[i]).count() as f64 / told.len() as f64;
        let shares = [0, 1, 2].map(share);
        let named = runs.iter().filter(|run| run.1).count() as f64 / count;
        let [r, c, p0] = shares;
        println!("{:<34} {r:.3} {c:.3} {p0:.3}  {named:.2}", recorder.name);
        let bounded = recorder.step_cmh2o > 0.0;
        for (i, share) in shares.into_iter().enumerate() {
            let most = if bounded || i == 2 { 1.0 } else { 0.95 + chance };
            if !(0.95 - chance..=most).contains(&share) {
                wrong.push(format!("{}: {} in {share}", recorder.name, ["R", "C", "P0"][i]));
            }
        }
        if recorder.named.is_some() && named < 0.6 {
            wrong.push(format!("{}: its cause is named in {named}", recorder.name));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

impl Recorder {
    /// A recording of a cat whose settings differ a little each time, and the pressure at
    /// volume zero of its first sample.
    fn record(&self, seed: u64) -> (Record, f64) {
        let mut random = generator(seed);
        let mut setup = Setup::default();
        setup.lung = Lung::single(
            Compliance::ml_per_cmh2o(COMPLIANCE),
            Resistance::cmh2o_s_per_l(RESISTANCE),
        );
        let mut around = |middle: f64| middle * (1.0 + 0.03 * standard_normal(&mut random));
        setup.ventilator.fresh_gas_flow = Flow::ml_s(around(25.0));
        setup.ventilator.cycling_pressure = Pressure::cmh2o(around(10.0));
        setup.ventilator.inspiratory_time_limit = Seconds::s(3.0);
        setup.ventilator.expiratory_time = Seconds::s(around(1.25));
        let baseline = BASELINE + 0.5 * around(1.0);
        let protocol = Protocol { start: setup, changes: Vec::new(), duration: Seconds::s(15.0) };
        let simulation = Simulation::new(&protocol).unwrap();
        // Fine enough that a time between two samples is read off a line.
        let fine = 2000.0;
        let mut sampler = Sampler::per_second(fine);
        let mut columns: [Vec<f64>; 3] = Default::default();
        for stretch in simulation.steps() {
            sampler.take(&stretch.unwrap(), |_, stretch, local_s| {
                let signals = [Signal::AirwayPressure, Signal::AirwayFlow, Signal::LungVolume];
                for (column, signal) in columns.iter_mut().zip(signals) {
                    column.push(stretch.piece.at(signal, local_s).unwrap());
                }
            });
        }
        let count = (12.0 * self.rate) as usize;
        let mut record = Record { volume_ml: self.volume.then(Vec::new), ..Record::default() };
        let start_s = 1.0 + random.next_u64() as f64 / u64::MAX as f64;
        let first = columns[2][(start_s * fine).round() as usize];
        let [pressure_sd, flow_sd, volume_sd] = self.noise;
        for k in 0..count {
            let time_s = k as f64 / self.rate;
            let true_s = start_s + time_s + self.jitter_s * standard_normal(&mut random);
            let place = ((true_s * fine).round() as usize).min(columns[0].len() - 1);
            let [pressure, flow, volume] = [0, 1, 2].map(|i| columns[i][place]);
            let mut noise = |sd: f64| sd * standard_normal(&mut random);
            let drift = self.drift_cmh2o * time_s / 12.0;
            let mut pressure = pressure + baseline + drift + noise(pressure_sd);
            if self.step_cmh2o > 0.0 {
                pressure = (pressure / self.step_cmh2o).round() * self.step_cmh2o;
            }
            record.time_s.push(time_s);
            record.pressure_cmh2o.push(pressure);
            record.flow_ml_s.push(flow + self.flow_zero_ml_s + noise(flow_sd));
            if let Some(column) = &mut record.volume_ml {
                column.push(volume + noise(volume_sd));
            }
        }
        // An integrated volume begins at zero.
        (record, if self.volume { baseline } else { baseline + first / COMPLIANCE })
    }
}
