//! Plans for an end-tidal carbon dioxide, breathed by the library's gas exchange.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright::exchange::{
    Apparatus, Conditions, Exchange, Fractions, GasMeter, USUAL_STEPS, follow,
};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};
use tidewright_study::plan::{EndTidal, Goals, Pace, plan};

/// The rate for an end-tidal goal, breathed for half an hour with the gas exchange of
/// the library, gives the goal.
#[test]
fn twin_gas_exchange_settles_at_the_end_tidal_goal() {
    for (species, kg, ml_kg, goal_mmhg) in
        [(Species::Cat, 4.0, 12.0, 40.0), (Species::Dog, 20.0, 12.0, 45.0)]
    {
        let animal = Animal::typical(species, Mass::kg(kg));
        let wanted = PartialPressure::mmhg(goal_mmhg);
        let pace = Pace::EndTidal(EndTidal::of(&animal, 38.0, wanted));
        let goals = Goals {
            weight: Mass::kg(kg),
            tidal_volume_ml_kg: ml_kg,
            pace,
            largest_fresh_gas_flow: Flow::l_per_min(60.0),
            pressure_ceiling: Pressure::cmh2o(30.0),
            ..Goals::default()
        };
        let equipment = Setup { lung: animal.lung(), ..Setup::default() };
        let plan = plan(&equipment, &goals.with_usual_inspiration()).unwrap();

        let exchange = Exchange::new(&animal, &plan.setup.lung, Apparatus::default()).unwrap();
        let now = Conditions::of(&animal, 38.0, Fractions::OXYGEN);
        let mut gas = exchange.steady(wanted, &now);
        let protocol =
            Protocol { start: plan.setup.clone(), changes: vec![], duration: Seconds::s(1800.0) };
        let (mut meter, mut last) = (GasMeter::default(), None);
        for stretch in Simulation::new(&protocol).unwrap().steps() {
            let stretch = stretch.unwrap();
            follow(&exchange, &mut gas, &stretch, &now, USUAL_STEPS, |gas, sample| {
                last = meter.take(&exchange, gas, sample).or(last);
            })
            .unwrap();
        }
        let found = last.unwrap().end_tidal_carbon_dioxide.as_mmhg();
        // The equation leaves out rebreathing and the swing of alveolar gas in a breath.
        assert!((found / goal_mmhg - 1.0).abs() < 0.06, "{species}: {found} mmHg");
    }
}

#[test]
fn end_tidal_goals_that_nothing_meets_are_refused() {
    let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
    let of = |mmhg: f64, ml_kg: f64| {
        let goal = EndTidal::of(&cat, 38.0, PartialPressure::mmhg(mmhg));
        let goals =
            Goals { pace: Pace::EndTidal(goal), tidal_volume_ml_kg: ml_kg, ..Goals::default() };
        plan(&Setup::default(), &goals).unwrap_err().to_string()
    };
    assert!(of(0.0, 10.0).contains("end-tidal carbon dioxide"), "{}", of(0.0, 10.0));
    assert!(of(40.0, 1.0).contains("dead space"), "{}", of(40.0, 1.0));
}
