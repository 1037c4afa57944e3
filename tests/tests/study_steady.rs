//! The settled breath, found directly, against waiting for it.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use rand::{Rng, RngExt};
use tidewright::prelude::*;
use tidewright::random::generator;
use tidewright::steady::{Periodic, SteadyError, one_breath, periodic};

#[test]
fn closed_form_stacking_settles_where_the_balance_of_gas_says() {
    // One compartment, no circuit: a breath ended by time adds Q·TI, and what is
    // left of a volume after the expiratory time is the share e^(−Te/τ).
    let mut setup = Setup::default();
    setup.circuit.compliance = Compliance::ZERO;
    setup.ventilator.fresh_gas_flow = Flow::ml_s(20.0);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(60.0);
    setup.ventilator.inspiratory_time_limit = Seconds::s(1.0);
    setup.ventilator.expiratory_time = Seconds::s(0.15);
    let breath = settled(&setup).breath;
    // The fresh gas flow leaves over the valve's 5 cmH2O·s/L meanwhile: 0.1 cmH2O
    // more to empty against, 0.6 mL.
    let left = tidewright::math::exp(-0.15 / (0.025 * 6.0));
    let volume_out = 20.0;
    let end_expiratory = 0.6 + volume_out * left / (1.0 - left);
    assert_eq!(breath.ended_by, EndedBy::Time);
    near(breath.inspired_tidal_volume.as_ml(), volume_out, 1e-13);
    near(breath.end_expiratory_alveolar_pressure.as_cmh2o(), end_expiratory / 6.0, 1e-13);
}

#[test]
fn twin_waiting_reaches_the_same_breath_on_random_linear_machines() {
    let mut random = generator(11);
    let (mut most_tried, mut restless) = (0, 0);
    for case in 0..300 {
        let setup = linear(&mut random);
        let [before, waited] = wait(&setup, 2000);
        match periodic(&Machine::new(setup.clone()).unwrap()) {
            Ok(found) => {
                same(&found.breath, &waited, 1e-9, &format!("case {case}: {setup:?}"));
                most_tried = most_tried.max(found.tried);
            }
            // A short expiratory time can make full breaths and very short ones take turns.
            Err(error) => {
                assert!(matches!(error, SteadyError::Changing { .. }), "{error}");
                let (a, b) = (before.inspiratory_time.as_s(), waited.inspiratory_time.as_s());
                assert!(
                    (a - b).abs() > 0.01,
                    "case {case}: {error}\n{before:?}\n{waited:?}\n{setup:?}"
                );
                restless += 1;
            }
        }
    }
    assert!(restless < 10, "{restless} of 300 machines do not settle");
    assert!(most_tried <= 60, "{most_tried} breaths to find one");
}

#[test]
fn twin_waiting_reaches_the_same_breath_on_random_machines_of_the_numeric_road() {
    let mut random = generator(12);
    for case in 0..25 {
        let setup = non_linear(&mut random);
        let found = settled(&setup);
        let waited = wait(&setup, 60)[1];
        same(&found.breath, &waited, 5e-5, &format!("case {case}: {setup:?}"));
    }
}

#[test]
fn a_lung_that_creeps_for_minutes_settles_in_a_few_tries() {
    let mut setup = Setup::default();
    setup.lung.viscoelastic = Some(Viscoelastic {
        compliance: Compliance::ml_per_cmh2o(20.0),
        resistance: Resistance::cmh2o_s_per_l(5000.0),
    });
    setup.ventilator.cycling_pressure = Pressure::cmh2o(40.0);
    setup.ventilator.inspiratory_time_limit = Seconds::s(1.5);
    let found = settled(&setup);
    assert!(found.tried <= 15, "{}", found.tried);
    same(&found.breath, &wait(&setup, 3000)[1], 1e-9, "creep");
}

#[test]
fn gas_behind_a_shut_airway_stays_where_it_was_at_rest() {
    let mut setup = Setup::default();
    let part = |c| Compartment::new(Compliance::ml_per_cmh2o(c), Resistance::cmh2o_s_per_l(30.0));
    setup.lung.compartments = vec![part(4.0), Compartment { shut: true, ..part(2.0) }];
    setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(3.0);
    same(&settled(&setup).breath, &wait(&setup, 50)[1], 1e-12, "shut");
}

#[test]
fn short_cycles_against_a_shut_port_are_a_settled_breath_too() {
    let mut setup = Setup::default();
    setup.circuit.patient_port = PatientPort::Blocked;
    let breath = settled(&setup).breath;
    let flow_ml_s = 2200.0 / 60.0;
    let rise = 8.0 - 0.005 * flow_ml_s;
    near(breath.inspiratory_time.as_s(), 0.15 * rise / flow_ml_s, 1e-9);
}

#[test]
fn machines_that_do_not_settle_say_why() {
    let mut setup = Setup::default();
    setup.ventilator.mode = Mode::Standby;
    assert_eq!(reason(&setup), SteadyError::Standby);

    let effort = Effort::breaths(Pressure::cmh2o(3.0), Seconds::s(1.0), Seconds::s(4.0));
    let setup = Setup { effort, ..Setup::default() };
    assert_eq!(reason(&setup), SteadyError::Effort);

    let mut setup = Setup::default();
    setup.ventilator.expiratory_time = Seconds::ZERO;
    setup.ventilator.inspiratory_time_limit = Seconds::ZERO;
    assert!(matches!(reason(&setup), SteadyError::Step(StepError::Chatter { .. })));
}

#[test]
fn bracing_that_never_lets_go_settles() {
    let effort = Effort::bracing(Pressure::cmh2o(4.0));
    let setup = Setup { effort, ..Setup::default() };
    same(&settled(&setup).breath, &wait(&setup, 50)[1], 1e-11, "bracing");
}

fn settled(setup: &Setup) -> Periodic {
    periodic(&Machine::new(setup.clone()).unwrap())
        .unwrap_or_else(|error| panic!("{error}: {setup:?}"))
}

fn reason(setup: &Setup) -> SteadyError {
    periodic(&Machine::new(setup.clone()).unwrap()).unwrap_err()
}

/// The last two of many breaths.
fn wait(setup: &Setup, breaths: u32) -> [Breath; 2] {
    let machine = Machine::new(setup.clone()).unwrap();
    let mut moment = Moment::at_rest(&machine);
    for _ in 2..breaths {
        moment = one_breath(&machine, &moment).unwrap().1;
    }
    let (before, next) = one_breath(&machine, &moment).unwrap();
    [before, one_breath(&machine, &next).unwrap().0]
}

/// A number from `low` to `high`, its logarithm evenly spread.
fn spread(random: &mut impl Rng, low: f64, high: f64) -> f64 {
    low * tidewright::math::pow(high / low, random.random::<f64>())
}

fn linear(random: &mut impl Rng) -> Setup {
    let mut setup = Setup::default();
    let weight = spread(random, 0.3, 40.0);
    let part = |random: &mut _| {
        Compartment::new(
            Compliance::ml_per_cmh2o(weight * spread(random, 0.3, 2.0)),
            Resistance::cmh2o_s_per_l(spread(random, 5.0, 200.0) / weight.sqrt()),
        )
    };
    let parts = random.random_range(1..4);
    setup.lung.compartments = (0..parts).map(|_| part(random)).collect();
    if random.random_bool(0.3) {
        setup.lung.chest_wall = Some(ChestWall {
            compliance: Compliance::ml_per_cmh2o(weight * spread(random, 2.0, 8.0)),
            pressed_by: Pressure::cmh2o(random.random_range(0.0..3.0)),
            open_wound: None,
        });
    }
    if random.random_bool(0.3) {
        setup.lung.viscoelastic = Some(Viscoelastic {
            compliance: Compliance::ml_per_cmh2o(weight * spread(random, 3.0, 10.0)),
            resistance: Resistance::cmh2o_s_per_l(spread(random, 50.0, 500.0) / weight),
        });
    }
    setup.circuit.compliance =
        Compliance::ml_per_cmh2o([0.0, spread(random, 0.02, 1.0)][random.random_range(0..2)]);
    if random.random_bool(0.3) {
        setup.circuit.limb = Some(Limb {
            compliance: Compliance::ml_per_cmh2o(spread(random, 0.05, 0.5)),
            resistance: Resistance::cmh2o_s_per_l(spread(random, 1.0, 100.0)),
            disconnected: false,
        });
    }
    if random.random_bool(0.5) {
        let flow = Flow::ml_s(spread(random, 0.1, 20.0) * weight.sqrt());
        setup.circuit.leak = Some(Leak::linear(flow, Pressure::cmh2o(30.0)));
    }
    let ventilator = &mut setup.ventilator;
    ventilator.fresh_gas_flow = Flow::l_per_min(weight * spread(random, 0.2, 1.0));
    ventilator.cycling_pressure = Pressure::cmh2o(spread(random, 5.0, 30.0));
    ventilator.inspiratory_time_limit = Seconds::s(spread(random, 0.5, 4.0));
    ventilator.expiratory_time = Seconds::s(spread(random, 0.05, 3.0));
    ventilator.end_expiratory_pressure = Pressure::cmh2o(random.random_range(0.0..4.0));
    if random.random_bool(0.2) {
        ventilator.valve_delay = Seconds::s(spread(random, 0.01, 0.3));
    }
    setup
}

fn non_linear(random: &mut impl Rng) -> Setup {
    let mut setup = linear(random);
    setup.circuit.leak =
        Some(Leak::orifice(Flow::ml_s(spread(random, 0.1, 5.0)), Pressure::cmh2o(30.0)));
    if random.random_bool(0.5) {
        setup.lung.tube =
            Tube::Quadratic { k1: spread(random, 1.0, 10.0), k2: spread(random, 1.0, 100.0) };
    }
    if random.random_bool(0.5) {
        let span = setup.lung.compartments[0].compliance.as_ml_per_cmh2o() * 40.0;
        setup.lung.compartments[0].law = PressureVolume::Sigmoid {
            lower: Volume::ZERO,
            span: Volume::ml(span),
            middle: Pressure::cmh2o(random.random_range(3.0..12.0)),
            width: Pressure::cmh2o(random.random_range(4.0..10.0)),
        };
    }
    setup
}

/// Every measure within `tolerance` of its size, or of one unit.
fn same(a: &Breath, b: &Breath, tolerance: f64, place: &str) {
    assert_eq!(a.ended_by, b.ended_by, "{place}\n{a:?}\n{b:?}");
    let values = |breath: &Breath| {
        [
            breath.inspiratory_time.as_s(),
            breath.inspired_tidal_volume.as_ml(),
            breath.expired_tidal_volume.as_ml(),
            breath.peak_pressure.as_cmh2o(),
            breath.mean_pressure.as_cmh2o(),
            breath.baseline_pressure.as_cmh2o(),
            breath.end_expiratory_alveolar_pressure.as_cmh2o(),
            breath.leaked.as_ml(),
        ]
    };
    for (i, (a, b)) in values(a).into_iter().zip(values(b)).enumerate() {
        let off = (a - b).abs() / b.abs().max(1.0);
        assert!(off <= tolerance, "value {i} is {a}, waiting gives {b}: {place}");
    }
}

fn near(value: f64, expected: f64, relative: f64) {
    let off = (value / expected - 1.0).abs();
    assert!(off <= relative, "{value} instead of {expected}");
}
