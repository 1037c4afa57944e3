//! What the tests share: running a setup, close-enough, and random machines,
//! which are everything a person could set up, and more.
#![allow(dead_code, reason = "each test file uses its own part of this")]

use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};
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

/// The first pieces of a setup that runs unchanged for a minute.
pub fn first_pieces(setup: &Setup, count: usize) -> (Machine, Vec<Piece>) {
    let machine = Machine::new(setup.clone()).unwrap();
    let mut moment = Moment::at_rest(&machine);
    let pieces = (0..count)
        .map(|_| {
            let done = step(&machine, &moment, 60.0).unwrap();
            moment = done.next;
            done.piece
        })
        .collect();
    (machine, pieces)
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

/// The same cases on every run, so that a green suite stays green; for a wider
/// hunt set PROPTEST_CASES and change the seed.
pub fn cases(count: u32) -> Config {
    let default = Config::default();
    let cases = if std::env::var("PROPTEST_CASES").is_ok() { default.cases } else { count };
    let rng_seed = match default.rng_seed {
        RngSeed::Random => RngSeed::Fixed(20),
        fixed => fixed,
    };
    Config { cases, rng_seed, failure_persistence: None, ..default }
}

/// A number whose logarithm is uniform.
pub fn log_uniform(low: f64, high: f64) -> impl Strategy<Value = f64> + Clone {
    (0.0..1.0_f64).prop_map(move |u| low * pow(high / low, u))
}

#[allow(clippy::disallowed_methods, reason = "an oracle keeps apart from the engine's maths")]
fn pow(base: f64, exponent: f64) -> f64 {
    base.powf(exponent)
}

fn or_zero(strategy: impl Strategy<Value = f64> + Clone) -> impl Strategy<Value = f64> + Clone {
    prop_oneof![1 => Just(0.0), 3 => strategy]
}

fn compartment() -> impl Strategy<Value = Compartment> + Clone {
    (log_uniform(0.05, 500.0), log_uniform(1.0, 1000.0)).prop_map(|(compliance, resistance)| {
        Compartment {
            compliance: Compliance::ml_per_cmh2o(compliance),
            resistance: Resistance::cmh2o_s_per_l(resistance),
        }
    })
}

fn lung(compartments: usize) -> impl Strategy<Value = Lung> {
    (prop::collection::vec(compartment(), compartments), or_zero(log_uniform(0.5, 200.0))).prop_map(
        |(compartments, tube)| Lung {
            compartments,
            tube_resistance: Resistance::cmh2o_s_per_l(tube),
        },
    )
}

fn circuit(rigid: bool) -> impl Strategy<Value = Circuit> {
    let leak = prop::option::of((or_zero(log_uniform(0.1, 100.0)), 5.0..40.0_f64));
    let port = prop_oneof![
        6 => Just(PatientPort::Connected),
        1 => Just(PatientPort::Blocked),
        1 => Just(PatientPort::Open),
    ];
    (log_uniform(0.01, 5.0), log_uniform(0.5, 300.0), leak, port).prop_map(
        move |(compliance, valve, leak, port)| Circuit {
            compliance: Compliance::ml_per_cmh2o(if rigid { 0.0 } else { compliance }),
            valve_resistance: Resistance::cmh2o_s_per_l(valve),
            leak: leak
                .map(|(flow, at)| Leak { flow: Flow::ml_s(flow), at: Pressure::cmh2o(at) }),
            // A rigid circuit whose every way out is shut has no solution.
            patient_port: if rigid { PatientPort::Connected } else { port },
        },
    )
}

fn ventilator() -> impl Strategy<Value = Ventilator> {
    let mode = prop_oneof![9 => Just(Mode::Ventilating), 1 => Just(Mode::Standby)];
    let end_expiratory = prop_oneof![2 => Just(0.0), 3 => -5.0..20.0_f64];
    (
        mode,
        or_zero(log_uniform(0.5, 1000.0)),
        -5.0..40.0_f64,
        or_zero(log_uniform(0.05, 5.0)),
        log_uniform(0.05, 5.0),
        end_expiratory,
        or_zero(log_uniform(0.001, 0.2)),
    )
        .prop_map(|(mode, flow, cycling, limit, expiratory, peep, delay)| Ventilator {
            mode,
            fresh_gas_flow: Flow::ml_s(flow),
            cycling_pressure: Pressure::cmh2o(cycling),
            inspiratory_time_limit: Seconds::s(limit),
            expiratory_time: Seconds::s(expiratory),
            end_expiratory_pressure: Pressure::cmh2o(peep),
            valve_delay: Seconds::s(delay),
        })
}

/// A setup with so many compartments, rigid or not.
fn setup_of(compartments: usize, rigid: bool) -> impl Strategy<Value = Setup> {
    (lung(compartments), circuit(rigid), ventilator()).prop_map(|(lung, circuit, ventilator)| {
        let mut setup = Setup::default();
        setup.lung = lung;
        setup.circuit = circuit;
        setup.ventilator = ventilator;
        setup
    })
}

/// Any setup: 1 to 6 compartments, rigid or not, every port, leak and mode.
pub fn setup() -> impl Strategy<Value = Setup> {
    (1..=6_usize, prop::bool::weighted(0.25)).prop_flat_map(|(n, rigid)| setup_of(n, rigid))
}

/// A run of ten seconds in which everything may change up to three times, in
/// mid-phase as a rule.
pub fn protocol() -> impl Strategy<Value = Protocol> {
    (1..=6_usize, prop::bool::weighted(0.25)).prop_flat_map(|(n, rigid)| {
        let change = (0.0..10.0_f64, setup_of(n, rigid));
        (setup_of(n, rigid), prop::collection::vec(change, 0..=3)).prop_map(
            |(start, mut changes)| {
                changes.sort_by(|a, b| a.0.total_cmp(&b.0));
                let changes = changes
                    .into_iter()
                    .map(|(at, setup)| Change { at: Seconds::s(at), setup })
                    .collect();
                Protocol { start, changes, duration: Seconds::s(10.0) }
            },
        )
    })
}
