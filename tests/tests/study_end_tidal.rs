//! Plans for an end-tidal carbon dioxide, breathed for hours by coupled runs.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright::coupled::{Coupled, GasPlan, GasSettings};
use tidewright::exchange::{
    Apparatus, Capnograph, Conditions, Exchange, Fractions, FreshGasInlet, LimbMixing,
};
use tidewright::prelude::*;
use tidewright::species::{Animal, Parameter, Species};
use tidewright_study::plan::{EndTidal, Goals, Pace, Plan, PlanError, plan, plan_end_tidal};

struct Case {
    setup: Setup,
    gas: GasPlan,
}

fn case(species: Species, kg: f64, peep_cmh2o: f64, apparatus: Apparatus) -> Case {
    let animal = Animal::typical(species, Mass::kg(kg));
    let mut setup = Setup { lung: animal.lung(), ..Setup::default() };
    setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(peep_cmh2o);
    let exchange = Exchange::new(&animal, &setup.lung, apparatus).unwrap();
    let now = Conditions::of(&animal, animal.value(Parameter::Temperature), Fractions::OXYGEN);
    let gas = GasPlan {
        animal,
        exchange,
        arterial_carbon_dioxide: PartialPressure::mmhg(46.0),
        capnograph: Capnograph::new(Seconds::ZERO, Seconds::ZERO),
        start: GasSettings { conditions: now, drive: None },
        changes: vec![],
    };
    Case { setup, gas }
}

fn planned(case: &Case, ml_kg: f64, wanted_mmhg: f64) -> Result<Plan, PlanError> {
    let goals = |pace| {
        Goals {
            weight: case.gas.animal.weight,
            tidal_volume_ml_kg: ml_kg,
            pace,
            largest_fresh_gas_flow: Flow::l_per_min(500.0),
            pressure_ceiling: Pressure::cmh2o(60.0),
            ..Goals::default()
        }
        .with_usual_inspiration()
    };
    plan_end_tidal(&case.setup, goals, PartialPressure::mmhg(wanted_mmhg), &case.gas)
}

/// End-tidal carbon dioxide after hours of the plan, from a body far from it.
fn after_hours(case: &Case, plan: &Plan, hours: f64) -> f64 {
    let start = plan.setup.clone();
    let protocol = Protocol { start, changes: vec![], duration: Seconds::s(3600.0 * hours) };
    let simulation = Simulation::new(&protocol).unwrap();
    let mut coupled = Coupled::new(&simulation, Some(&case.gas)).unwrap();
    for together in coupled.by_ref() {
        together.unwrap();
    }
    coupled.gas().unwrap().last_breath().unwrap().end_tidal_carbon_dioxide.as_mmhg()
}

/// Every species, adapters from none to large, end-expiratory pressure, with and without
/// a sampling line: a plan run for four hours, from a body that was far
/// from it, comes within 2 % of its goal.
#[test]
fn twin_a_plan_run_for_hours_settles_at_its_goal() {
    for species in Species::ALL {
        let (light, heavy) = species.usual_weight_kg();
        let kg = (light * heavy).sqrt();
        for (adapter_ml_kg, peep, inlet, sampling) in [
            (0.0, 0.0, FreshGasInlet::Patient, 0.0),
            (0.5, 5.0, FreshGasInlet::Patient, 50.0),
            (2.5, 0.0, FreshGasInlet::Patient, 0.0),
        ] {
            let apparatus = Apparatus {
                adapter_ml: adapter_ml_kg * kg,
                limb_ml: (15.0 * kg).max(100.0),
                inlet,
                sampling_ml_min: sampling,
                ..Apparatus::default()
            };
            let case = case(species, kg, peep, apparatus);
            let plan = planned(&case, 12.0, 40.0).unwrap();
            let found = after_hours(&case, &plan, 4.0);
            let rate = plan.breath.rate_per_min();
            assert!(
                (found / 40.0 - 1.0).abs() < 0.02,
                "{species} {kg} kg, adapter {adapter_ml_kg} mL/kg, {peep} cmH2O, {inlet:?}: \
                 {found} mmHg at {rate}/min"
            );
        }
    }
}

/// The adapter is part of what must be washed out: 1 mL of it is 1 mL of dead space.
#[test]
fn closed_form_the_rate_follows_the_adapter() {
    let rate = |adapter_ml: f64| {
        let apparatus = Apparatus { adapter_ml, ..Apparatus::default() };
        let case = case(Species::Cat, 4.0, 0.0, apparatus);
        planned(&case, 12.0, 40.0).unwrap().breath.rate_per_min()
            * (48.0 - case.gas.exchange.airway_ml - adapter_ml)
    };
    let (small, large) = (rate(2.0), rate(10.0));
    assert!((large / small - 1.0).abs() < 0.05, "{small} {large}");
}

#[test]
fn end_tidal_goals_that_nothing_meets_are_refused() {
    let case = case(Species::Cat, 4.0, 0.0, Apparatus::default());
    let of = |mmhg: f64, ml_kg: f64| planned(&case, ml_kg, mmhg).unwrap_err().to_string();
    assert!(of(0.0, 10.0).contains("end-tidal carbon dioxide"), "{}", of(0.0, 10.0));
    assert!(of(40.0, 1.0).contains("dead space"), "{}", of(40.0, 1.0));
    // So little that no rate leaves time to breathe out.
    assert!(of(1.0, 4.0).contains("go below"), "{}", of(1.0, 4.0));
    // Fresh gas beside the outlet of a limb in which nothing mixes, and all that is
    // breathed out is breathed again.
    let apparatus = Apparatus {
        inlet: FreshGasInlet::Machine,
        limb_mixing: LimbMixing::PlugFlow,
        limb_parcels: 60,
        ..Apparatus::default()
    };
    let machine_end = self::case(Species::Cat, 4.0, 0.0, apparatus);
    let why = planned(&machine_end, 12.0, 40.0).unwrap_err().to_string();
    assert!(why.contains("near the patient"), "{why}");
    // The mass balance alone is a plan as any other.
    let goal =
        EndTidal::of(&case.gas.exchange, &case.gas.start.conditions, PartialPressure::mmhg(40.0));
    let goals = Goals { pace: Pace::EndTidal(goal), ..Goals::default() };
    assert!(plan(&case.setup, &goals).is_ok());
}
