//! Breath, gas and drive in one run, against the same thing done by hand and
//! against what must hold.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

use tidewright::coupled::{Coupled, GasChange, GasLimits, GasPlan, GasSettings, GasTotals};
use tidewright::drive::Drive;
use tidewright::exchange::{
    Apparatus, Capnograph, Conditions, Exchange, Fractions, USUAL_STEPS, follow,
};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};

/// A dog of 20 kg at a T-piece, on standby.
fn dog(depth: f64, fresh_gas_l_min: f64) -> (Setup, GasPlan) {
    let animal = Animal::typical(Species::Dog, Mass::kg(20.0));
    let mut setup = Setup { lung: animal.lung(), ..Setup::default() };
    setup.ventilator.mode = Mode::Standby;
    setup.ventilator.fresh_gas_flow = Flow::l_per_min(fresh_gas_l_min);
    let apparatus = Apparatus { limb_ml: 600.0, ..Apparatus::default() };
    let plan = GasPlan {
        exchange: Exchange::new(&animal, &setup.lung, apparatus).unwrap(),
        arterial_carbon_dioxide: PartialPressure::mmhg(45.0),
        capnograph: Capnograph::new(Seconds::ZERO, Seconds::ZERO),
        start: GasSettings {
            conditions: Conditions::of(&animal, 38.0, Fractions::OXYGEN),
            drive: Some(Drive::of(&animal, depth)),
        },
        changes: vec![],
        animal,
    };
    (setup, plan)
}

fn simulation(start: Setup, duration_s: f64) -> Simulation {
    let protocol = Protocol { start, changes: vec![], duration: Seconds::s(duration_s) };
    Simulation::new(&protocol).unwrap()
}

/// By hand: a new machine with a new pattern of effort for every breath.
fn by_hand(mut setup: Setup, plan: &GasPlan, duration_s: f64) -> f64 {
    let GasPlan { exchange, start, animal, .. } = plan;
    let mut gas = exchange.steady(plan.arterial_carbon_dioxide, &start.conditions);
    let arterial = |gas: &_| exchange.body.arterial_gases(gas).carbon_dioxide;
    let mut machine = Machine::new(setup.clone()).unwrap();
    let mut moment = Moment::at_rest(&machine);
    while moment.at_s < duration_s {
        let breath = start.drive.unwrap().next_breath(arterial(&gas.body));
        setup.effort = breath.map_or_else(Effort::none, |breath| breath.effort(animal));
        let until_s = moment.at_s + breath.map_or(1.0, |breath| breath.period.as_s());
        let until_s = until_s.min(duration_s);
        let next = Machine::new(setup.clone()).unwrap();
        moment = moment.under(&next, &machine).unwrap();
        machine = next;
        while moment.at_s < until_s {
            let done = step(&machine, &moment, until_s - moment.at_s).unwrap();
            moment = done.next;
            let stretch = Stretch::from(done.piece);
            follow(exchange, &mut gas, &stretch, &start.conditions, USUAL_STEPS, |_, _| {})
                .unwrap();
        }
    }
    arterial(&gas.body).as_mmhg()
}

#[test]
fn twin_a_coupled_run_and_the_same_by_hand() {
    for fresh_gas_l_min in [2.0, 12.0] {
        let (setup, plan) = dog(0.48, fresh_gas_l_min);
        let simulation = simulation(setup.clone(), 900.0);
        let mut coupled = Coupled::new(&simulation, Some(&plan)).unwrap();
        for together in coupled.by_ref() {
            together.unwrap();
        }
        let arterial = coupled.gas().unwrap().arterial().carbon_dioxide.as_mmhg();
        let expected = by_hand(setup, &plan, 900.0);
        // By hand the circulation stays as it was.
        assert!((arterial / expected - 1.0).abs() < 5e-3, "{arterial} and {expected} mmHg");
    }
}

/// All gas is somewhere along a coupled run, whatever changes.
#[test]
fn law_of_conservation_over_a_coupled_run() {
    let (setup, mut plan) = dog(0.6, 3.0);
    let mut arrest = plan.start;
    arrest.conditions.demand.cardiac_output_ml_s = 0.0;
    let air = GasSettings {
        conditions: Conditions { fresh_gas: Fractions::AIR, ..plan.start.conditions },
        drive: None,
    };
    let change = |at_s, settings| GasChange { at: Seconds::s(at_s), settings };
    plan.changes = vec![change(200.0, air), change(300.0, arrest), change(330.0, plan.start)];
    let simulation = simulation(setup, 600.0);
    let mut coupled = Coupled::new(&simulation, Some(&plan)).unwrap();
    let before = plan.exchange.balance(coupled.gas().unwrap().state());
    for together in coupled.by_ref() {
        together.unwrap();
    }
    let after = plan.exchange.balance(coupled.gas().unwrap().state());
    for (was, is) in [
        (before.volume, after.volume),
        (before.carbon_dioxide, after.carbon_dioxide),
        (before.oxygen, after.oxygen),
    ] {
        assert!((is / was - 1.0).abs() < 1e-9, "{was} mL, then {is} mL");
    }
}

/// Every road of loss in one run (leak, off, blocked, no fresh gas, arrest), and no gas
/// is lost: 1e-9 of what was made and used.
#[test]
fn law_of_conservation_to_what_was_made_and_used() {
    let (mut setup, mut plan) = dog(0.6, 3.0);
    setup.ventilator.mode = Mode::Ventilating;
    setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(4.0);
    let mut arrest = plan.start;
    arrest.conditions.demand.cardiac_output_ml_s = 0.0;
    let air = GasSettings {
        conditions: Conditions { fresh_gas: Fractions::AIR, ..plan.start.conditions },
        ..plan.start
    };
    let at = |at_s: f64, settings| GasChange { at: Seconds::s(at_s), settings };
    plan.changes = vec![at(200.0, air), at(700.0, arrest), at(760.0, plan.start)];
    let mut leaky = setup.clone();
    leaky.circuit.leak = Some(Leak::orifice(Flow::ml_s(15.0), Pressure::cmh2o(10.0)));
    let mut off = leaky.clone();
    off.circuit.patient_port = PatientPort::Open;
    let mut blocked = setup.clone();
    blocked.circuit.patient_port = PatientPort::Blocked;
    let mut dry = setup.clone();
    dry.ventilator.fresh_gas_flow = Flow::ZERO;
    let change = |at_s: f64, setup: &Setup| Change { at: Seconds::s(at_s), setup: setup.clone() };
    for duration_s in [1.0, 60.0, 3600.0] {
        let changes = [(100.0, &leaky), (300.0, &off), (400.0, &setup), (500.0, &blocked)];
        let changes = changes.into_iter().chain([(530.0, &dry), (600.0, &setup)]);
        let changes = changes.filter(|(at_s, _)| *at_s < duration_s);
        let changes = changes.map(|(at_s, setup)| change(at_s, setup)).collect();
        let start = setup.clone();
        let protocol = Protocol { start, changes, duration: Seconds::s(duration_s) };
        let simulation = Simulation::new(&protocol).unwrap();
        let mut coupled = Coupled::new(&simulation, Some(&plan)).unwrap();
        for together in coupled.by_ref() {
            together.unwrap();
        }
        let ledger = coupled.gas().unwrap().ledger();
        for (name, gas) in [("carbon dioxide", ledger.carbon_dioxide), ("oxygen", ledger.oxygen)] {
            assert!(gas.made_ml.abs() > 0.5 * duration_s, "{name}: {gas:?}");
            let off = gas.unexplained_ml() / gas.made_ml;
            assert!(off.abs() < 1e-9, "{duration_s} s, {name}: {off}, {gas:?}");
        }
    }
}

/// Cycles of a ventilator that move no gas are no breaths: three minutes with a shut
/// tube, an open or a blocked port or without fresh gas are three minutes without one.
#[test]
fn law_cycles_without_gas_for_the_lung_are_no_breaths() {
    let causes: [fn(&mut Setup); 4] = [
        |setup| setup.lung.tube = Tube::Shut,
        |setup| setup.circuit.patient_port = PatientPort::Blocked,
        |setup| setup.circuit.patient_port = PatientPort::Open,
        |setup| setup.ventilator.fresh_gas_flow = Flow::ZERO,
    ];
    for (number, cause) in causes.into_iter().enumerate() {
        let (mut setup, mut plan) = dog(0.6, 8.0);
        plan.start.drive = None;
        setup.ventilator.mode = Mode::Ventilating;
        let mut cut = setup.clone();
        cause(&mut cut);
        let change =
            |at_s: f64, setup: &Setup| Change { at: Seconds::s(at_s), setup: setup.clone() };
        let changes = vec![change(60.0, &cut), change(240.0, &setup)];
        let protocol = Protocol { start: setup, changes, duration: Seconds::s(300.0) };
        let simulation = Simulation::new(&protocol).unwrap();
        let mut totals = GasTotals::new(GasLimits::default());
        for together in Coupled::new(&simulation, Some(&plan)).unwrap() {
            totals.take(&together.unwrap().gas.unwrap());
        }
        let longest = totals.longest_without_breath_s;
        assert!((178.0..192.0).contains(&longest), "cause {number}: {longest} s");
    }
}

/// The oxygen that a lung draws in during apnoea is no breath, whatever the animal.
#[test]
fn apnoea_has_no_breaths() {
    for (species, kg) in [(Species::Rat, 0.3), (Species::Cat, 4.0), (Species::Horse, 500.0)] {
        let (mut setup, mut plan) = dog(1.0, 8.0);
        let animal = Animal::typical(species, Mass::kg(kg));
        setup.lung = animal.lung();
        let apparatus = Apparatus { adapter_ml: 0.5 * kg.min(40.0), ..Apparatus::default() };
        plan.exchange = Exchange::new(&animal, &setup.lung, apparatus).unwrap();
        plan.start = GasSettings {
            conditions: Conditions::of(&animal, 38.0, Fractions::OXYGEN),
            drive: Some(Drive::of(&animal, 1.0)),
        };
        plan.animal = animal;
        let simulation = simulation(setup, 300.0);
        let mut totals = GasTotals::new(GasLimits::default());
        for together in Coupled::new(&simulation, Some(&plan)).unwrap() {
            totals.take(&together.unwrap().gas.unwrap());
        }
        assert_eq!(totals.breaths, 0, "{species}");
        assert!((totals.longest_without_breath_s - 300.0).abs() < 1e-6, "{totals:?}");
        assert!(totals.highest_arterial_mmhg.unwrap() > 60.0, "{totals:?}");
    }
}

/// A drive that a ventilator holds above its threshold adds its own breaths to
/// those of the ventilator; below it there are none.
#[test]
fn a_patient_on_the_ventilator_breathes_only_above_its_threshold() {
    let pulled = |cycling_cmh2o: f64| {
        let (mut setup, plan) = dog(0.5, 8.0);
        setup.ventilator.mode = Mode::Ventilating;
        setup.ventilator.cycling_pressure = Pressure::cmh2o(cycling_cmh2o);
        setup.ventilator.expiratory_time = Seconds::s(2.0);
        let simulation = simulation(setup, 1800.0);
        let late = Coupled::new(&simulation, Some(&plan)).unwrap().map(Result::unwrap).filter(
            |together| {
                let piece = &together.stretch.piece;
                piece.start_s > 1500.0 && piece.range(Signal::MusclePressure).1 > 0.1
            },
        );
        late.count()
    };
    assert_eq!(pulled(15.0), 0);
    assert!(pulled(4.0) > 20);
}
