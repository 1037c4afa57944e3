//! What a run with gas begins from: nothing drifts that nothing drives, and all gas at
//! all places is as stated.

use tidewright::alveolar::btps_per_stpd;
use tidewright::coupled::{Coupled, GasPlan, GasRun, GasSettings};
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

/// Breaths of a plan, from the arterial carbon dioxide that they hold: every species on
/// air and oxygen, with and without end-expiratory pressure, over an hour.
#[test]
fn twin_nothing_drifts_on_a_ventilator_that_suits() {
    for species in Species::ALL {
        let (light, heavy) = species.usual_weight_kg();
        let kg = (light * heavy).sqrt();
        let animal = Animal::typical(species, Mass::kg(kg));
        for fresh_gas in [AIR, Fractions::OXYGEN] {
            for peep in [0.0, 8.0] {
                let mut setup = Setup { lung: animal.lung(), ..Setup::default() };
                setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(peep);
                let apparatus = Apparatus {
                    adapter_ml: (0.5 * kg).min(20.0),
                    limb_ml: (15.0 * kg).max(100.0),
                    ..Apparatus::default()
                };
                let exchange = Exchange::new(&animal, &setup.lung, apparatus).unwrap();
                let warm = animal.value(Parameter::Temperature);
                let now = Conditions::of(&animal, warm, fresh_gas);
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
                gas.arterial_carbon_dioxide = plan.end_tidal.unwrap().arterial_carbon_dioxide;
                let start = plan.setup.clone();
                let protocol = Protocol { start, changes: vec![], duration: Seconds::s(3600.0) };
                let simulation = Simulation::new(&protocol).unwrap();
                let mut coupled = Coupled::new(&simulation, Some(&gas)).unwrap();
                let before = coupled.gas().unwrap().tensions();
                // Arterial gases go up and down with each breath: means over a minute.
                let (mut second, mut last) = ([0.0; 4], [0.0; 4]);
                for together in coupled.by_ref() {
                    for point in together.unwrap().gas.unwrap().points {
                        let mean = match point.at_s {
                            60.0..120.0 => &mut second,
                            3540.0.. => &mut last,
                            _ => continue,
                        };
                        mean[0] += point.step_s * point.arterial_carbon_dioxide_mmhg;
                        mean[1] += point.step_s * point.arterial_oxygen_mmhg;
                        mean[2] += point.step_s * point.saturation;
                        mean[3] += point.step_s;
                    }
                }
                let [second, last] = [second, last].map(|sum| sum.map(|each| each / sum[3]));
                let name = format!("{species} {kg:.2} kg, {peep} cmH2O, {fresh_gas:?}");
                let near = |value: f64, expected: f64, what: &str| {
                    let off = value / expected - 1.0;
                    assert!(off.abs() < 0.01, "{name}: {what} {expected}, then {value}");
                };
                near(last[0], before.carbon_dioxide.as_mmhg(), "stated PaCO2");
                near(last[0], second[0], "PaCO2");
                near(last[1], second[1], "PaO2");
                // Oxygen of alveolar gas swings more than its carbon dioxide, which tissue
                // buffers: breaths in and out, the mean lies below the alveolar gas equation.
                let off = last[1] / before.oxygen.as_mmhg() - 1.0;
                let swing = 10.0 * kg / gas.exchange.relaxed_ml.iter().sum::<f64>();
                assert!(off.abs() < 0.02 + 0.05 * swing, "{name}: stated PaO2 is off by {off}");
                let points = 100.0 * (last[2] - before.saturation).abs();
                assert!(points < 1.0 + swing, "{name}: SpO2 moves by {points}");
            }
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
