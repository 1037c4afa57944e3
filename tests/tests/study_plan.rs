//! Plans: their settings, simulated, meet the goals; what the trade works out in
//! the head comes out in the limit for which it is right; goals that cannot be met
//! say why.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use rand::{Rng, RngExt};
use tidewright::prelude::*;
use tidewright::random::generator;
use tidewright::species::{Species, lung};
use tidewright_study::plan::{Goals, Obstacle, Pace, Plan, PlanError, plan, text};

#[test]
fn settings_simulated_meet_the_goals_of_every_species() {
    for species in Species::ALL {
        let (light, heavy) = species.usual_weight_kg();
        for weight in [light, (light * heavy).sqrt(), heavy] {
            let mut equipment = Setup { lung: lung(species, Mass::kg(weight)), ..Setup::default() };
            // A wide valve for a large animal: its flow is held back by nothing else.
            equipment.circuit.valve_resistance = Resistance::cmh2o_s_per_l(20.0 / weight);
            equipment.circuit.leak = Some(Leak::linear(Flow::ml_s(0.5), Pressure::cmh2o(30.0)));
            let goals = Goals {
                weight: Mass::kg(weight),
                largest_fresh_gas_flow: Flow::l_per_min(1000.0),
                pressure_ceiling: Pressure::cmh2o(60.0),
                ..Goals::default()
            };
            simulated_meets_goals(&plan(&equipment, &goals).unwrap());
        }
    }
}

#[test]
fn settings_simulated_meet_random_goals_with_random_equipment() {
    let mut random = generator(5);
    let (mut met, mut stuck) = (0, 0);
    for _ in 0..300 {
        let goals = goals(&mut random);
        match plan(&equipment(&mut random, goals.weight), &goals) {
            Ok(plan) => {
                simulated_meets_goals(&plan);
                met += 1;
            }
            Err(PlanError::Infeasible(why)) => {
                assert!(!why.obstacles.is_empty());
                stuck += 1;
            }
            Err(error) => panic!("{error}"),
        }
    }
    assert!(met > 150 && stuck > 5, "{met} met, {stuck} not");
}

#[test]
fn practice_trade_facts_come_out_in_the_rigid_leak_free_limit() {
    // Common practice, no source: 20 mL in 1 s needs 1.2 L/min; with 1 s of
    // inspiration, 27 a minute leave 1.22 s to breathe out and 22 leave 1.73 s.
    let mut equipment = Setup::default();
    equipment.circuit.compliance = Compliance::ZERO;
    for (per_min, expiratory_time_s) in [(27.0, 1.22), (22.0, 1.73)] {
        let goals = Goals {
            weight: Mass::kg(2.0),
            inspiratory_time: Seconds::s(1.0),
            pace: Pace::Rate { per_min },
            ..Goals::default()
        };
        let plan = plan(&equipment, &goals).unwrap();
        near(plan.ventilator().fresh_gas_flow.as_l_per_min(), 1.2, 1e-12);
        assert!((plan.ventilator().expiratory_time.as_s() - expiratory_time_s).abs() < 0.005);
        assert_eq!(plan.rule_of_thumb.expiratory_time, plan.ventilator().expiratory_time);
        near(plan.rule_of_thumb.fresh_gas_flow.as_l_per_min(), 1.2, 1e-12);
    }
}

#[test]
fn closed_form_of_the_tight_rigid_circuit() {
    // VT = C·(Pc − Pee − R·Q), with what the fresh gas flow holds at the open valve.
    let mut equipment = Setup::default();
    equipment.circuit.compliance = Compliance::ZERO;
    equipment.ventilator.end_expiratory_pressure = Pressure::cmh2o(3.0);
    let plan = plan(&equipment, &Goals::default()).unwrap();
    let flow = 40.0 / 1.5;
    let left = tidewright::math::exp(-2.5 / (0.025 * 6.0));
    let trapped = 40.0 / 6.0 * left / (1.0 - left);
    let expected = 3.0 + 0.005 * flow + trapped + 40.0 / 6.0 + 0.020 * flow;
    near(plan.ventilator().cycling_pressure.as_cmh2o(), expected, 1e-12);
    // dVT/dPc = C·(1 − e^(−Te/τ)), since what is trapped does not go in again.
    near(plan.sensitivity.per_cmh2o.tidal_volume_ml, 6.0 * (1.0 - left), 1e-5);
    near(plan.sensitivity.per_cmh2o.peak_pressure_cmh2o, 1.0, 1e-9);
    let rate = -15.0 * 15.0 / 60.0;
    near(plan.sensitivity.per_s.rate_per_min, rate, 1e-4);
}

#[test]
fn law_8_the_parts_of_flow_and_pressure_add_up() {
    let mut random = generator(6);
    for _ in 0..200 {
        let goals = goals(&mut random);
        let Ok(plan) = plan(&equipment(&mut random, goals.weight), &goals) else { continue };
        let gas = &plan.gas;
        let parts = [gas.into_lung, gas.into_circuit, gas.leaked, gas.elsewhere];
        let sum: f64 = parts.iter().map(|part| part.as_ml()).sum();
        near(sum, gas.fresh.as_ml(), 1e-12);
        near(
            gas.fresh.as_ml(),
            plan.ventilator().fresh_gas_flow.as_ml_s() * goals.inspiratory_time.as_s(),
            1e-12,
        );
        // Nothing of this equipment lets gas out but the leak.
        assert!(gas.elsewhere.as_ml().abs() < 1e-6 * gas.fresh.as_ml(), "{gas:?}");

        let pressure = &plan.pressure;
        let parts = [
            pressure.device,
            pressure.back_pressure,
            pressure.trapped,
            pressure.elastic,
            pressure.resistive,
            pressure.sensor,
        ];
        let sum: f64 = parts.iter().map(|part| part.as_cmh2o()).sum();
        near(sum, pressure.sensed.as_cmh2o(), 1e-12);
        assert_eq!(pressure.sensed, plan.ventilator().cycling_pressure);
    }
}

#[test]
fn sensitivities_are_those_of_a_turn_of_the_control() {
    let mut equipment = Setup::default();
    equipment.circuit.leak = Some(Leak::linear(Flow::ml_s(15.0), Pressure::cmh2o(30.0)));
    let plan = plan(&equipment, &Goals::default()).unwrap();
    let mut turned = plan.setup.clone();
    turned.ventilator.fresh_gas_flow = plan.ventilator().fresh_gas_flow + Flow::l_per_min(0.001);
    let after = settled(&turned);
    let change = after.inspired_tidal_volume.as_ml() - plan.breath.inspired_tidal_volume.as_ml();
    near(change / 0.001, plan.sensitivity.per_l_min.tidal_volume_ml, 2e-3);
    let change = after.inspiratory_time.as_s() - plan.breath.inspiratory_time.as_s();
    near(change / 0.001, plan.sensitivity.per_l_min.inspiratory_time_s, 2e-3);
}

#[test]
fn the_pressure_is_told_early_enough_for_a_slow_valve() {
    let mut equipment = Setup::default();
    equipment.ventilator.valve_delay = Seconds::s(0.2);
    let slow = plan(&equipment, &Goals::default()).unwrap();
    simulated_meets_goals(&slow);
    let fast = plan(&Setup::default(), &Goals::default()).unwrap();
    // 0.2 s of the flow, over lung and circuit, fewer cmH2O.
    let earlier = slow.ventilator().fresh_gas_flow.as_ml_s() * 0.2 / 6.15;
    let by = (fast.ventilator().cycling_pressure - slow.ventilator().cycling_pressure).as_cmh2o();
    near(by, earlier, 0.01);
}

#[test]
fn a_minute_volume_gives_the_rate() {
    let goals = Goals { pace: Pace::MinuteVolume { ml_min_kg: 150.0 }, ..Goals::default() };
    let plan = plan(&Setup::default(), &goals).unwrap();
    near(plan.breath.rate_per_min(), 15.0, 1e-9);
}

#[test]
fn the_time_limit_is_safe_and_says_what_it_lets_through() {
    let plan = plan(&Setup::default(), &Goals::default()).unwrap();
    let limit = &plan.time_limit;
    near(limit.limit.as_s(), 1.5 * 1.5, 1e-12);
    assert!(limit.limit < limit.by_volume && !limit.is_beyond_volume());
    let mut deaf = plan.setup.clone();
    deaf.ventilator.cycling_pressure = Pressure::cmh2o(1e6);
    assert_eq!(settled(&deaf), limit.if_never_told);

    // 16 mL/kg leave less than half as much again below 20 mL/kg.
    let goals = Goals { tidal_volume_ml_kg: 16.0, ..Goals::default() };
    let plan = tidewright_study::plan::plan(&Setup::default(), &goals).unwrap();
    assert_eq!(plan.time_limit.limit, plan.time_limit.by_volume);
    // 19 mL/kg leave no room at all: the limit gives way, and says so.
    let goals = Goals { tidal_volume_ml_kg: 19.0, ..goals };
    let plan = tidewright_study::plan::plan(&Setup::default(), &goals).unwrap();
    assert!(plan.time_limit.is_beyond_volume());
    assert!(text(&plan).contains("think again"));
}

#[test]
fn goals_beyond_the_design_say_what_it_takes_and_what_can_be_had() {
    // A dog of 28 kg: common teaching says it needs 11 to 17 L/min.
    let weight = Mass::kg(28.0);
    let equipment = Setup { lung: lung(Species::Dog, weight), ..Setup::default() };
    let goals = Goals { weight, largest_fresh_gas_flow: Flow::l_per_min(4.0), ..Goals::default() };
    let why = infeasible(&equipment, &goals);
    let Obstacle::FlowBeyondDesign { needed_l_min, largest_l_min, reached_ml, longer_s } =
        why.obstacles[0]
    else {
        panic!("{why}");
    };
    assert!((11.0..17.0).contains(&needed_l_min), "{needed_l_min}");
    near(largest_l_min, 4.0, 1e-12);
    // Volume follows flow; 280 mL at 66 mL/s take longer than a whole breath of 4 s.
    near(reached_ml / 280.0, 4.0 / needed_l_min, 0.03);
    assert_eq!(longer_s.0, None);
    near(why.within_reach.unwrap().inspired_tidal_volume.as_ml(), reached_ml, 1e-9);

    // At half the rate there is time.
    let goals = Goals { pace: Pace::Rate { per_min: 8.0 }, ..goals };
    let Obstacle::FlowBeyondDesign { longer_s, .. } = infeasible(&equipment, &goals).obstacles[0]
    else {
        panic!();
    };
    let goals = Goals { inspiratory_time: Seconds::s(longer_s.0.unwrap()), ..goals };
    let why = plan(&equipment, &Goals { largest_fresh_gas_flow: Flow::l_per_min(4.01), ..goals });
    near(why.unwrap().ventilator().fresh_gas_flow.as_l_per_min(), 4.0, 1e-6);
}

#[test]
fn a_ceiling_that_is_too_low_says_what_goes_in_below_it() {
    let goals = Goals { pressure_ceiling: Pressure::cmh2o(6.0), ..Goals::default() };
    let why = infeasible(&Setup::default(), &goals);
    let Obstacle::PressureAboveCeiling { needed_cmh2o, reached_ml, .. } = why.obstacles[0] else {
        panic!("{why}");
    };
    assert!(needed_cmh2o > 7.0);
    let goals = Goals { tidal_volume_ml_kg: reached_ml / 4.0, ..goals };
    let goals = Goals { pressure_ceiling: Pressure::cmh2o(6.000_001), ..goals };
    near(plan(&Setup::default(), &goals).unwrap().breath.peak_pressure.as_cmh2o(), 6.0, 1e-6);
}

#[test]
fn goals_that_time_valve_port_or_sensor_forbid_say_so() {
    let setup = Setup::default();
    let fast = Goals { pace: Pace::Rate { per_min: 45.0 }, ..Goals::default() };
    let why = infeasible(&setup, &fast);
    assert!(matches!(why.obstacles[0], Obstacle::NoTimeToBreatheOut { .. }), "{why}");

    let mut slow = Setup::default();
    slow.ventilator.valve_delay = Seconds::s(2.0);
    let why = infeasible(&slow, &Goals::default());
    assert!(matches!(why.obstacles[0], Obstacle::ValveTooSlow { .. }), "{why}");

    let mut blocked = Setup::default();
    blocked.circuit.patient_port = PatientPort::Blocked;
    let why = infeasible(&blocked, &Goals::default());
    assert!(matches!(why.obstacles[0], Obstacle::VolumeOutOfReach { .. }), "{why}");

    let mut relief = Setup::default();
    let resistance = Resistance::cmh2o_s_per_l(0.01);
    relief.circuit.relief = Some(Relief { opens_at: Pressure::cmh2o(3.0), resistance });
    let why = infeasible(&relief, &Goals::default());
    assert!(matches!(why.obstacles[0], Obstacle::VolumeOutOfReach { .. }), "{why}");

    let mut cut = Setup::default();
    cut.circuit.sensor.place = SensorPlace::Cut(Pressure::cmh2o(0.0));
    let why = infeasible(&cut, &Goals::default());
    assert!(matches!(why.obstacles[0], Obstacle::SensorDoesNotTell { .. }), "{why}");
}

#[test]
fn goals_out_of_range_are_refused_with_their_name() {
    let good = Goals::default();
    let nan = f64::NAN;
    let bad = [
        (Goals { weight: Mass::kg(0.0), ..good }, "weight"),
        (Goals { tidal_volume_ml_kg: -1.0, ..good }, "tidal volume"),
        (Goals { inspiratory_time: Seconds::s(nan), ..good }, "inspiratory time"),
        (Goals { pace: Pace::Rate { per_min: f64::INFINITY }, ..good }, "rate"),
        (Goals { pace: Pace::MinuteVolume { ml_min_kg: 0.0 }, ..good }, "minute volume"),
        (Goals { pressure_ceiling: Pressure::ZERO, ..good }, "pressure ceiling"),
        (Goals { largest_fresh_gas_flow: Flow::ZERO, ..good }, "largest fresh gas flow"),
    ];
    for (goals, name) in bad {
        match plan(&Setup::default(), &goals) {
            Err(PlanError::Goal { what, .. }) => assert_eq!(what, name),
            other => panic!("{name}: {other:?}"),
        }
    }
}

#[test]
fn the_page_has_settings_rule_parts_and_caution() {
    let page = text(&plan(&Setup::default(), &Goals::default()).unwrap());
    for part in [
        "rule of thumb",
        "into the circuit",
        "tube and airway",
        "practice values",
        "Not a medical device",
    ] {
        assert!(page.contains(part), "{part} is missing:\n{page}");
    }
}

fn simulated_meets_goals(plan: &Plan) {
    let goals = &plan.goals;
    let breath = settled(&plan.setup);
    assert_eq!(breath.ended_by, EndedBy::Pressure);
    near(breath.inspired_tidal_volume.as_ml(), goals.tidal_volume().as_ml(), 1e-3);
    near(breath.inspiratory_time.as_s(), goals.inspiratory_time.as_s(), 1e-3);
    near(breath.rate_per_min(), goals.rate_per_min(), 1e-3);
    assert!(breath.peak_pressure <= goals.pressure_ceiling);
    assert!(plan.ventilator().fresh_gas_flow <= goals.largest_fresh_gas_flow);
    assert!(plan.ventilator().inspiratory_time_limit > goals.inspiratory_time);
}

fn settled(setup: &Setup) -> Breath {
    tidewright::steady::periodic(&Machine::new(setup.clone()).unwrap()).unwrap().breath
}

fn infeasible(equipment: &Setup, goals: &Goals) -> tidewright_study::plan::Infeasible {
    match plan(equipment, goals) {
        Err(PlanError::Infeasible(why)) => *why,
        other => panic!("{other:?}"),
    }
}

fn goals(random: &mut impl Rng) -> Goals {
    Goals {
        weight: Mass::kg(random.random_range(0.5..20.0)),
        tidal_volume_ml_kg: random.random_range(6.0..15.0),
        inspiratory_time: Seconds::s(random.random_range(0.6..2.0)),
        pace: Pace::Rate { per_min: random.random_range(8.0..28.0) },
        pressure_ceiling: Pressure::cmh2o(30.0),
        largest_fresh_gas_flow: Flow::l_per_min(15.0),
    }
}

/// Lungs of one or two parts, leaks of either law, limbs, sigmoid lungs.
fn equipment(random: &mut impl Rng, weight: Mass) -> Setup {
    let kg = weight.as_kg();
    let mut setup = Setup::default();
    let part = |random: &mut _, share: f64| {
        Compartment::new(
            Compliance::ml_per_cmh2o(kg * share * RngExt::random_range(random, 0.8..1.8)),
            Resistance::cmh2o_s_per_l(RngExt::random_range(random, 15.0..60.0) / kg.sqrt()),
        )
    };
    setup.lung.compartments = match random.random_bool(0.5) {
        true => vec![part(random, 1.0)],
        false => vec![part(random, 0.6), part(random, 0.4)],
    };
    let leak = Flow::ml_s(random.random_range(0.1..5.0));
    setup.circuit.leak = match random.random_range(0..8) {
        0..4 => Some(Leak::linear(leak, Pressure::cmh2o(30.0))),
        4 => Some(Leak::orifice(leak, Pressure::cmh2o(30.0))),
        _ => None,
    };
    setup.circuit.compliance = Compliance::ml_per_cmh2o(random.random_range(0.02..0.6));
    if random.random_bool(0.3) {
        setup.circuit.limb = Some(Limb {
            compliance: Compliance::ml_per_cmh2o(0.2),
            resistance: Resistance::cmh2o_s_per_l(random.random_range(1.0..20.0)),
            disconnected: false,
        });
    }
    if random.random_bool(0.1) {
        setup.lung.compartments[0].law = PressureVolume::Sigmoid {
            lower: Volume::ZERO,
            span: Volume::ml(kg * 60.0),
            middle: Pressure::cmh2o(10.0),
            width: Pressure::cmh2o(8.0),
        };
    }
    setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(random.random_range(0.0..4.0));
    setup
}

fn near(value: f64, expected: f64, relative: f64) {
    let off = (value / expected - 1.0).abs();
    assert!(off <= relative, "{value} instead of {expected}");
}
