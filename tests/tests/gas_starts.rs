//! What a run with gas begins from: nothing drifts that nothing drives, and all gas at
//! all places is as stated.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright::alveolar::btps_per_stpd;
use tidewright::coupled::{Coupled, GasPlan, GasRun, GasSettings};
use tidewright::drive::Drive;
use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
use tidewright::prelude::*;
use tidewright::species::{Animal, Parameter, Species};
use tidewright_study::plan::{Goals, plan_end_tidal};

const AIR: Fractions = Fractions { carbon_dioxide: 0.0, oxygen: 0.21 };

/// Every species at four weights from light to heavy (a decade and more of each), on air
/// and on oxygen, with and without a wider shunt and alveolar dead space: ventilated
/// evenly with just what its carbon dioxide asks for, an animal stays as it is for an
/// hour: PaCO2 and PaO2 within 1 %, SpO2 within 1 point.
#[test]
fn closed_form_nothing_drifts_that_nothing_drives() {
    let mut cases = 0;
    for species in Species::ALL {
        let (light, heavy) = species.usual_weight_kg();
        for step in 0..4 {
            let kg = light * tidewright::math::pow(heavy / light, f64::from(step) / 3.0);
            let animal = Animal::typical(species, Mass::kg(kg));
            for fresh_gas in [AIR, Fractions::OXYGEN] {
                for shunt in [None, Some(0.0), Some(0.15), Some(0.3)] {
                    let mut exchange =
                        Exchange::new(&animal, &animal.lung(), Apparatus::default()).unwrap();
                    exchange.shunt = shunt.unwrap_or(exchange.shunt);
                    let now =
                        Conditions::of(&animal, animal.value(Parameter::Temperature), fresh_gas);
                    let stated = animal.value(Parameter::ArterialCarbonDioxide);
                    let mut gas = exchange.steady(PartialPressure::mmhg(stated), &now);
                    let before = exchange.body.arterial_tensions(&gas.body);
                    let name = format!("{species} {kg:.2} kg, shunt {shunt:?}, {fresh_gas:?}");
                    let near = |value: f64, expected: f64, what: &str| {
                        let off = value / expected - 1.0;
                        assert!(off.abs() < 0.01, "{name}: {what} {expected}, then {value}");
                    };
                    near(before.carbon_dioxide.as_mmhg(), stated, "stated PaCO2");
                    // What washes out the carbon dioxide that is made, alveoli without
                    // blood ventilated beside the others.
                    let made = now.demand.carbon_dioxide_ml_s * btps_per_stpd(exchange.barometric);
                    let met = 1.0 - exchange.alveolar_dead_space();
                    let ventilation = made / exchange.mean_alveolar(&gas).carbon_dioxide / met;
                    let step_s =
                        (0.02 / (ventilation / exchange.relaxed_ml.iter().sum::<f64>())).min(0.1);
                    for _ in 0..(3600.0 / step_s) as u32 {
                        exchange.breathe_evenly(&mut gas, ventilation, fresh_gas, &now, step_s);
                    }
                    let after = exchange.body.arterial_tensions(&gas.body);
                    near(after.carbon_dioxide.as_mmhg(), before.carbon_dioxide.as_mmhg(), "PaCO2");
                    near(after.oxygen.as_mmhg(), before.oxygen.as_mmhg(), "PaO2");
                    let points = 100.0 * (after.saturation - before.saturation).abs();
                    assert!(points < 1.0, "{name}: SpO2 moves by {points}");
                    cases += 1;
                }
            }
        }
    }
    assert!(cases >= 200, "{cases}");
}

/// Breaths of a plan, from the arterial carbon dioxide that they hold: nothing drifts over
/// an hour, from the first breaths on. Every species from light to heavy, on air and on
/// oxygen, with and without end-expiratory pressure: 224 cases, of which the suite takes
/// every ninth; all with `ALL_STARTS=1 cargo test --release -p tidewright-tests --test
/// gas_starts`.
#[test]
fn twin_nothing_drifts_on_a_ventilator_that_suits() {
    let every = if std::env::var_os("ALL_STARTS").is_some() { 1 } else { 9 };
    let mut cases = Vec::new();
    for species in Species::ALL {
        let (light, heavy) = species.usual_weight_kg();
        for step in 0..8 {
            let kg = light * tidewright::math::pow(heavy / light, f64::from(step) / 7.0);
            for fresh_gas in [AIR, Fractions::OXYGEN] {
                cases.extend([0.0, 8.0].map(|peep| (species, kg, fresh_gas, peep)));
            }
        }
    }
    assert!(cases.len() >= 200, "{}", cases.len());
    let mut most = [0.0_f64; 4];
    let mut failed = Vec::new();
    for &(species, kg, fresh_gas, peep) in cases.iter().step_by(every) {
        let drifts = drift_over_an_hour(species, kg, fresh_gas, peep);
        most = std::array::from_fn(|i| most[i].max(drifts[i].abs()));
        if drifts.iter().any(|share| share.is_nan() || share.abs() > 0.01) {
            failed.push(format!("{species} {kg:.2} kg, {peep} cmH2O, {fresh_gas:?}: {drifts:?}"));
        }
    }
    println!("largest of stated PaCO2, PaCO2, PaO2, SpO2: {most:?}");
    assert!(failed.is_empty(), "{failed:#?}");
}

/// Shares by which the arterial carbon dioxide of the first breaths is off what was
/// stated, and carbon dioxide, oxygen and saturation of the last minute of an hour off
/// those of the first breaths.
fn drift_over_an_hour(species: Species, kg: f64, fresh_gas: Fractions, peep: f64) -> [f64; 4] {
    let animal = Animal::typical(species, Mass::kg(kg));
    let mut setup = Setup { lung: animal.lung(), ..Setup::default() };
    setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(peep);
    // The way out of a large animal is wide: no breath stacks on the one before.
    setup.circuit.valve_resistance = setup.circuit.valve_resistance * (10.0 / kg).min(1.0);
    let apparatus = Apparatus {
        adapter_ml: (0.5 * kg).min(20.0),
        limb_ml: (15.0 * kg).max(100.0),
        ..Apparatus::default()
    };
    let exchange = Exchange::new(&animal, &setup.lung, apparatus).unwrap();
    let now = Conditions::of(&animal, animal.value(Parameter::Temperature), fresh_gas);
    let goals = |pace| {
        Goals {
            weight: animal.weight,
            pace,
            largest_fresh_gas_flow: Flow::l_per_min(500.0),
            pressure_ceiling: Pressure::cmh2o(60.0),
            ..Goals::default()
        }
        .with_usual_inspiration()
    };
    let wanted = PartialPressure::mmhg(38.0);
    let mut gas = GasPlan {
        animal: animal.clone(),
        exchange,
        arterial_carbon_dioxide: wanted,
        capnograph: Capnograph::new(Seconds::ZERO, Seconds::ZERO),
        start: GasSettings { conditions: now, drive: None },
        changes: vec![],
    };
    let plan = plan_end_tidal(&setup, goals, wanted, &gas).unwrap();
    let stated = plan.end_tidal.unwrap().arterial_carbon_dioxide;
    gas.arterial_carbon_dioxide = stated;
    let protocol =
        Protocol { start: plan.setup.clone(), changes: vec![], duration: Seconds::s(3600.0) };
    let simulation = Simulation::new(&protocol).unwrap();
    // Arterial gases go up and down with each breath: means over many whole ones.
    let machine = Machine::new(plan.setup).unwrap();
    let breath_s = 60.0 / tidewright::steady::periodic(&machine).unwrap().breath.rate_per_min();
    let window_s = (30.0 / breath_s).ceil() * breath_s;
    let (mut first, mut last) = ([0.0; 4], [0.0; 4]);
    for together in Coupled::new(&simulation, Some(&gas)).unwrap() {
        for point in together.unwrap().gas.unwrap().points {
            let mean = match point.at_s {
                at_s if at_s <= window_s => &mut first,
                at_s if at_s > 3600.0 - window_s => &mut last,
                _ => continue,
            };
            mean[0] += point.step_s * point.arterial_carbon_dioxide_mmhg;
            mean[1] += point.step_s * point.arterial_oxygen_mmhg;
            mean[2] += point.step_s * point.saturation;
            mean[3] += point.step_s;
        }
    }
    let [first, last] = [first, last].map(|sum| sum.map(|each| each / sum[3]));
    let off = |i: usize| last[i] / first[i] - 1.0;
    [first[0] / stated.as_mmhg() - 1.0, off(0), off(1), last[2] - first[2]]
}

/// Animals that breathe by themselves, from the carbon dioxide that they come to in an
/// hour: their oxygen on air begins where it stays.
#[test]
fn twin_nothing_drifts_while_an_animal_breathes_alone() {
    for (species, kg) in [(Species::Cat, 4.0), (Species::Dog, 20.0), (Species::Rat, 0.3)] {
        let animal = Animal::typical(species, Mass::kg(kg));
        let mut start = Setup { lung: animal.lung(), ..Setup::default() };
        start.ventilator.mode = Mode::Standby;
        start.ventilator.fresh_gas_flow = Flow::l_per_min(2.0 * kg + 1.0);
        let apparatus =
            Apparatus { limb_ml: 30.0 * kg, adapter_ml: 0.3 * kg, ..Default::default() };
        let warm = animal.value(Parameter::Temperature);
        let drive = Drive::of(&animal, 0.2);
        let mut gas = GasPlan {
            exchange: Exchange::new(&animal, &start.lung, apparatus).unwrap(),
            arterial_carbon_dioxide: drive.usual_arterial().unwrap(),
            capnograph: Capnograph::new(Seconds::ZERO, Seconds::ZERO),
            start: GasSettings {
                conditions: Conditions::of(&animal, warm, AIR),
                drive: Some(drive),
            },
            changes: vec![],
            animal,
        };
        let protocol = Protocol { start, changes: vec![], duration: Seconds::s(3600.0) };
        let simulation = Simulation::new(&protocol).unwrap();
        let mean = |gas: &GasPlan, from_s: f64, to_s: f64| {
            let mut mean = [0.0; 3];
            for together in Coupled::new(&simulation, Some(gas)).unwrap() {
                for point in together.unwrap().gas.unwrap().points {
                    if (from_s..to_s).contains(&point.at_s) {
                        mean[0] += point.step_s * point.arterial_carbon_dioxide_mmhg;
                        mean[1] += point.step_s * point.arterial_oxygen_mmhg;
                        mean[2] += point.step_s;
                    }
                }
            }
            [mean[0] / mean[2], mean[1] / mean[2]]
        };
        let [held, _] = mean(&gas, 3300.0, 3600.0);
        gas.arterial_carbon_dioxide = PartialPressure::mmhg(held);
        let (first, last) = (mean(&gas, 0.0, 60.0), mean(&gas, 3540.0, 3600.0));
        for (what, i) in [("PaCO2", 0), ("PaO2", 1)] {
            let off = last[i] / first[i] - 1.0;
            assert!(off.abs() < 0.01, "{species}: {what} {first:?}, then {last:?}");
        }
    }
}

/// A start with end-expiratory pressure draws nothing in: before any gas has moved the
/// lung and the limb hold what the pressure gives them, of the gas that is stated.
#[test]
fn closed_form_a_start_with_end_expiratory_pressure_holds_what_it_states() {
    for peep in [0.0, 5.0, 15.0] {
        let dog = Animal::typical(Species::Dog, Mass::kg(20.0));
        let mut setup = Setup { lung: dog.lung(), ..Setup::default() };
        setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(peep);
        setup.ventilator.mode = Mode::Standby;
        setup.ventilator.fresh_gas_flow = Flow::ZERO;
        let now = Conditions::of(&dog, 38.5, Fractions::OXYGEN);
        let plan = GasPlan {
            exchange: Exchange::new(&dog, &setup.lung, Apparatus::default()).unwrap(),
            arterial_carbon_dioxide: PartialPressure::mmhg(36.8),
            capnograph: Capnograph::new(Seconds::ZERO, Seconds::ZERO),
            start: GasSettings { conditions: now, drive: None },
            changes: vec![],
            animal: dog,
        };
        let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(0.05) };
        let simulation = Simulation::new(&protocol).unwrap();
        let alveolar = |gas: &GasRun| {
            let alveolar = plan.exchange.mean_alveolar(gas.state());
            alveolar.carbon_dioxide * plan.exchange.dry_mmhg()
        };
        let mut coupled = Coupled::new(&simulation, Some(&plan)).unwrap();
        let was = alveolar(coupled.gas().unwrap());
        assert!((was / 36.8 - 1.0).abs() < 0.02, "{was}");
        let first = coupled.next().unwrap().unwrap().gas.unwrap();
        let moved: f64 = first.points.iter().map(|point| point.volume_ml).sum();
        assert!(moved.abs() < 0.1, "{peep} cmH2O: {moved} mL");
        let is = alveolar(coupled.gas().unwrap());
        assert!((is - was).abs() < 0.05, "{peep} cmH2O: {was}, then {is} mmHg");
        let air = coupled.gas().unwrap().ledger().oxygen.room_air_ml;
        assert!(air < 0.1, "{peep} cmH2O: {air} mL of room air");
    }
}

/// With s of the output shunted, CaO2 = (1 − s)·CcO2 + s·CvO2 and the same of carbon
/// dioxide, and the stated arterial pressure holds.
#[test]
fn closed_form_a_shunt_is_part_of_the_steady_state() {
    for species in Species::ALL {
        let (light, heavy) = species.usual_weight_kg();
        let animal = Animal::typical(species, Mass::kg((light * heavy).sqrt()));
        for fresh_gas in [AIR, Fractions::OXYGEN] {
            for shunt in [0.05, 0.3, 0.5] {
                let mut exchange =
                    Exchange::new(&animal, &animal.lung(), Apparatus::default()).unwrap();
                exchange.shunt = shunt;
                let now = Conditions::of(&animal, 38.0, fresh_gas);
                let gas = exchange.steady(PartialPressure::mmhg(40.0), &now);
                let (arterial, venous) = (gas.body.arterial, gas.body.venous);
                let dry = exchange.dry_mmhg();
                let alveolar = exchange.mean_alveolar(&gas);
                let curves = &exchange.body.curves;
                let (carbon_dioxide, oxygen) =
                    curves.carried(alveolar.oxygen * dry, alveolar.carbon_dioxide * dry);
                let mixed =
                    |capillary: f64, venous: f64| (1.0 - shunt) * capillary + shunt * venous;
                let off = mixed(oxygen, venous.oxygen) - arterial.oxygen;
                assert!(off.abs() < 2e-4, "{species} {shunt}: oxygen {off} mL/mL");
                let off = mixed(carbon_dioxide, venous.carbon_dioxide) - arterial.carbon_dioxide;
                assert!(off.abs() < 2e-3, "{species} {shunt}: carbon dioxide {off} mL/mL");
                let found = exchange.body.arterial_tensions(&gas.body).carbon_dioxide.as_mmhg();
                assert!((found / 40.0 - 1.0).abs() < 0.005, "{species} {shunt}: {found} mmHg");
            }
        }
    }
}
