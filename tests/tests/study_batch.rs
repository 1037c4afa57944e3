//! Blocks of plain machines against the general engine, breath by breath.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use rand::{Rng, RngExt};
use tidewright::prelude::*;
use tidewright::random::generator;
use tidewright::steady::one_breath;
use tidewright_study::batch::{Block, Breaths, TwoNode};

/// Twelve breaths of each machine from both; times, volumes and pressures within
/// 1e-12 of their size or of one unit.
fn agree<const N: usize>(machines: &[TwoNode; N]) -> u32 {
    let mut block = Block::new(machines);
    let mut breaths = Breaths::default();
    let mut by_pressure = 0;
    let engines: Vec<_> = machines.iter().map(|m| Machine::new(m.setup()).unwrap()).collect();
    let mut moments: Vec<_> = engines.iter().map(Moment::at_rest).collect();
    for number in 0..12 {
        block.breath(&mut breaths).unwrap();
        for lane in 0..N {
            let (expected, next) = one_breath(&engines[lane], &moments[lane]).unwrap();
            moments[lane] = next;
            let (found, expected) = (breaths.lane(lane), Breaths::from(&expected));
            by_pressure += u32::from(found.ended_by_pressure[0]);
            let place =
                || format!("breath {number} of {:?}\n{found:?}\n{expected:?}", machines[lane]);
            assert_eq!(found.ended_by_pressure, expected.ended_by_pressure, "{}", place());
            let pairs = values(&found).into_iter().zip(values(&expected));
            for (i, (found, expected)) in pairs.enumerate() {
                let off = (found - expected).abs() / expected.abs().max(1.0);
                assert!(off <= allowed(&machines[lane], i), "value {i}: {off:e} in {}", place());
            }
        }
    }
    by_pressure
}

/// Where pressure creeps to the cycling pressure, its last bits are worth more time
/// than 1e-12, in either road.
fn allowed(machine: &TwoNode, value: usize) -> f64 {
    let creep = 1.0 - machine.cycling_pressure * machine.leak_conductance / machine.fresh_gas_flow;
    let creeps = value != 8 && creep > 0.0 && creep < 0.01;
    if creeps { 1e-14 / (creep * creep) } else { 1e-12 }
}

#[test]
fn twin_general_engine_agrees_on_random_patients() {
    let mut random = generator(21);
    let mut by_pressure = 0;
    for _ in 0..2000 {
        by_pressure += agree(&std::array::from_fn::<_, 8, _>(|_| patient(&mut random)));
    }
    // Both endings occur often.
    let all = 2000 * 8 * 12;
    assert!(by_pressure > all / 4 && by_pressure < all * 9 / 10, "{by_pressure} of {all}");
}

#[test]
fn twin_general_engine_agrees_where_breaths_are_not_plain() {
    let plain = plain();
    agree(&[
        // Almost blocked: the pressure is met while the fast mode is young.
        TwoNode { airway_resistance: 5000.0, ..plain },
        // Bronchospasm and a soft circuit: the fast mode is alive at the crossing.
        TwoNode { airway_resistance: 200.0, circuit_compliance: 1.0, ..plain },
        // Met on entry: the device holds more than the cycling pressure.
        TwoNode { end_expiratory_pressure: 12.0, ..plain },
        // No gas, no time, gas trapped, a leak that holds the pressure down.
        TwoNode { fresh_gas_flow: 0.0, ..plain },
        TwoNode { inspiratory_time_limit: 0.0, ..plain },
        TwoNode { expiratory_time: 0.03, ..plain },
        TwoNode { leak_conductance: 2.5, ..plain },
        // The circuit softer than the lung.
        TwoNode { circuit_compliance: 20.0, lung_compliance: 2.0, ..plain },
        // A cycling pressure below what the room holds.
        TwoNode { cycling_pressure: -1.0, ..plain },
        TwoNode { end_expiratory_pressure: -5.0, ..plain },
        // A leak so wide that the lung empties through it in inspiration.
        TwoNode { leak_conductance: 200.0, end_expiratory_pressure: 8.0, ..plain },
        TwoNode { leak_conductance: 1e-6, ..plain },
    ]);
}

#[test]
fn the_number_of_lanes_does_not_change_a_bit() {
    let mut random = generator(22);
    for _ in 0..200 {
        let machines: [TwoNode; 8] = std::array::from_fn(|_| patient(&mut random));
        let mut together = (Block::new(&machines), Breaths::default());
        let mut alone = machines.map(|machine| (Block::new(&[machine]), Breaths::<1>::default()));
        for _ in 0..10 {
            together.0.breath(&mut together.1).unwrap();
            for (lane, (block, breaths)) in alone.iter_mut().enumerate() {
                block.breath(breaths).unwrap();
                let bits = |breath: &Breaths<1>| values(breath).map(f64::to_bits);
                assert_eq!(bits(&together.1.lane(lane)), bits(&breaths.lane(0)));
            }
        }
    }
}

#[test]
fn setups_that_are_not_plain_are_left_to_the_general_engine() {
    let default = Setup::default();
    assert!(TwoNode::of(&default).is_some());
    let tubed = Setup {
        lung: tidewright::species::lung(tidewright::species::Species::Cat, Mass::kg(4.0)),
        ..default.clone()
    };
    assert!(TwoNode::of(&tubed).unwrap().airway_resistance > 15.0);
    let changes: [fn(&mut Setup); 9] = [
        |setup| setup.circuit.compliance = Compliance::ZERO,
        |setup| setup.circuit.leak = Some(Leak::orifice(Flow::ml_s(1.0), Pressure::cmh2o(30.0))),
        |setup| setup.circuit.backflow_check = true,
        |setup| setup.circuit.patient_port = PatientPort::Blocked,
        |setup| setup.circuit.sensor.place = SensorPlace::Cut(Pressure::ZERO),
        |setup| setup.ventilator.mode = Mode::Standby,
        |setup| setup.effort = Effort::bracing(Pressure::cmh2o(1.0)),
        |setup| setup.lung.compartments[0].shut = true,
        |setup| setup.lung.compartments[0].compliance = Compliance::ml_per_cmh2o(f64::NAN),
    ];
    for (index, change) in changes.iter().enumerate() {
        let mut setup = default.clone();
        change(&mut setup);
        assert_eq!(TwoNode::of(&setup), None, "change {index}");
    }
    // A sensor that reads 1 high ends the breath 1 early.
    let mut high = default.clone();
    high.circuit.sensor.offset = Pressure::cmh2o(1.0);
    assert_eq!(TwoNode::of(&high).unwrap().cycling_pressure, 7.0);
    let plain = TwoNode::of(&default).unwrap();
    assert_eq!(TwoNode::of(&plain.setup()), Some(plain));
}

fn plain() -> TwoNode {
    TwoNode::of(&Setup::default()).unwrap()
}

fn patient(random: &mut impl Rng) -> TwoNode {
    let mut spread =
        |low: f64, high: f64| low * tidewright::math::pow(high / low, random.random::<f64>());
    let kg = spread(0.2, 50.0);
    let leak = if spread(1.0, 2.0) < 1.2 { 0.0 } else { spread(0.001, 1.0) * kg.sqrt() };
    TwoNode {
        lung_compliance: kg * spread(0.4, 2.0),
        airway_resistance: spread(5.0, 200.0) / kg.sqrt(),
        circuit_compliance: spread(0.02, 1.5),
        leak_conductance: leak,
        valve_resistance: spread(1.0, 30.0) / kg.sqrt(),
        fresh_gas_flow: kg * spread(2.0, 20.0),
        cycling_pressure: spread(4.0, 30.0),
        inspiratory_time_limit: spread(0.3, 4.0),
        expiratory_time: spread(0.1, 4.0),
        end_expiratory_pressure: spread(1.0, 8.0) - 1.0,
    }
}

fn values(breath: &Breaths<1>) -> [f64; 10] {
    let (inspiration, expiration) = (breath.inspiratory_time_s[0], breath.expiratory_time_s[0]);
    [
        inspiration,
        breath.inspired_tidal_volume_ml[0],
        breath.expired_tidal_volume_ml[0],
        breath.peak_pressure_cmh2o[0],
        breath.mean_pressure_cmh2o[0],
        breath.baseline_pressure_cmh2o[0],
        breath.end_expiratory_alveolar_pressure_cmh2o[0],
        breath.leaked_ml[0],
        expiration,
        60.0 / (inspiration + expiration),
    ]
}
