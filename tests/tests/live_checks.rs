//! What a live run keeps, and what it refuses.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

mod common;

use std::sync::Arc;

use common::live_runs::{begin, plan, with_gas};
use tidewright::coupled::{Coupled, GasPlan};
use tidewright::exchange::{Apparatus, Exchange, Fractions, GasError};
use tidewright::live::{Dials, LiveError};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};
use tidewright::step::Place;

fn balance_of_gas(run: &LiveRun) -> f64 {
    let gas = run.gas().unwrap().unwrap();
    gas.exchange().balance(gas.state()).volume
}

/// Without a change the run is that of a protocol.
#[test]
fn twin_a_live_run_and_the_steps_of_a_simulation() {
    let start = tidewright_tests::two_node::cat();
    let protocol = Protocol { start: start.clone(), changes: vec![], duration: Seconds::s(60.0) };
    let simulation = Simulation::new(&protocol).unwrap();
    let known: Vec<Piece<'_>> = simulation.steps().map(|stretch| stretch.unwrap().piece).collect();
    let mut told = 0;
    let mut run = begin(&start);
    run.advance(Seconds::s(60.0), |passing| {
        if let Some(stretch) = passing.finished() {
            assert_eq!(stretch.piece, known[told]);
            told += 1;
        }
    })
    .unwrap();
    // The last one was cut by the end of the protocol.
    assert_eq!(told, known.len() - 1);
}

/// Gas is conserved over looks, changes and branches.
#[test]
fn law_of_conservation_over_a_live_run_with_gas() {
    for own in [false, true] {
        let mut run = with_gas(Species::Rabbit, 3.0, own, 0.2);
        let before = balance_of_gas(&run);
        for look in 1..200_u32 {
            run.advance(Seconds::s(f64::from(look) * 0.73), |_| {}).unwrap();
            if look % 37 == 0 {
                let mut setup = run.machine().setup().clone();
                setup.ventilator.fresh_gas_flow = setup.ventilator.fresh_gas_flow * 1.1;
                run.change(setup).unwrap();
            }
        }
        let after = balance_of_gas(&run);
        let used = run.gas().unwrap().unwrap().fresh_gas_used().volume;
        assert!((after - before).abs() < 1e-12 * used, "{before} mL, then {after} mL of {used} mL");
    }
}

#[test]
fn what_would_lose_gas_is_refused_and_nothing_moves() {
    let mut start = tidewright_tests::two_node::cat();
    start.circuit.compliance = Compliance::ml_per_cmh2o(1.5);
    let part = start.lung.compartments[0].clone();
    start.lung.compartments.push(part);
    let mut run = begin(&start);
    run.advance(Seconds::s(0.7), |_| {}).unwrap();
    let before = Signal::ALL.map(|signal| run.read(signal).unwrap());
    let mut rigid = start.clone();
    rigid.circuit.compliance = Compliance::ZERO;
    let mut one = start.clone();
    one.lung.compartments.pop();
    for (setup, place) in [(rigid, "circuit's compliance"), (one, "lung compartment")] {
        let machine = Machine::new(setup.clone()).unwrap();
        let refused = Moment::at_rest(run.machine()).under(&machine, run.machine());
        assert_eq!(refused.unwrap_err().place, place);
        let protocol = Protocol {
            start: start.clone(),
            changes: vec![Change { at: Seconds::s(0.7), setup: setup.clone() }],
            duration: Seconds::s(2.0),
        };
        assert!(matches!(Simulation::new(&protocol), Err(ProtocolError::Structure { .. })));
        let error = run.change(setup).unwrap_err();
        assert!(matches!(error, LiveError::Structure(Misplaced { place: p }) if p == place));
        assert_eq!(Signal::ALL.map(|signal| run.read(signal).unwrap()), before);
    }
    let bad = run.put_gas(Place::Compartment(4), Volume::ml(1.0));
    assert!(matches!(bad, Err(LiveError::NoSuchPlace { .. })));
    let bad = run.put_gas(Place::TPiece, Volume::ml(f64::NAN));
    assert!(matches!(bad, Err(LiveError::OutOfRange { .. })));
    let bad = run.breathe_in(Pressure::cmh2o(5.0), Seconds::ZERO);
    assert!(matches!(bad, Err(LiveError::OutOfRange { .. })));
    for to_s in [0.3, f64::NAN, f64::INFINITY] {
        let bad = run.advance(Seconds::s(to_s), |_| {});
        assert!(matches!(bad, Err(LiveError::NotAhead { .. })), "{to_s}");
    }
    assert!(matches!(run.change_adapter(3.0), Err(LiveError::NoGas)));
    assert_eq!(Signal::ALL.map(|signal| run.read(signal).unwrap()), before);
}

#[test]
fn gas_that_cannot_be_is_refused_where_plan_and_simulation_meet() {
    let animal = Animal::typical(Species::Dog, Mass::kg(25.0));
    let start = Setup { lung: animal.lung(), ..Setup::default() };
    let good = plan(animal, &start, false);
    let refused = |plan: &GasPlan, start: &Setup| {
        let protocol =
            Protocol { start: start.clone(), changes: vec![], duration: Seconds::s(1.0) };
        let simulation = Simulation::new(&protocol).unwrap();
        let by_protocol = Coupled::new(&simulation, Some(plan)).map(|_| ()).unwrap_err();
        let machine = Arc::new(Machine::new(start.clone()).unwrap());
        if plan.changes.is_empty() {
            let by_run = LiveRun::with_gas(machine, plan).map(|_| ()).unwrap_err();
            // Their words: what is no number equals nothing.
            assert_eq!(by_run.to_string(), by_protocol.to_string());
        }
        by_protocol
    };
    for (carbon_dioxide, oxygen) in [(0.0, 21.0), (0.0, f64::NAN), (-0.1, 1.0), (0.6, 0.6)] {
        let mut plan = good.clone();
        plan.start.conditions.fresh_gas = Fractions { carbon_dioxide, oxygen };
        refused(&plan, &start);
    }
    let mut two = start.clone();
    two.lung.compartments.push(two.lung.compartments[0].clone());
    assert_eq!(refused(&good, &two), GasError::OtherLung { exchange: 1, machine: 2 });
    let mut plan = good.clone();
    let change =
        |at_s| tidewright::coupled::GasChange { at: Seconds::s(at_s), settings: good.start };
    plan.changes = vec![change(5.0), change(2.0)];
    assert_eq!(refused(&plan, &start), GasError::Order { at_s: 2.0, before_s: 5.0 });
    plan.changes = vec![change(f64::NAN)];
    assert!(matches!(refused(&plan, &start), GasError::Order { .. }));
    for (longest_s, most) in [(0.0, 0.5), (-1.0, 0.5), (f64::NAN, 0.5), (0.1, 0.0)] {
        assert!(tidewright::exchange::Steps::new(longest_s, most).is_err());
    }
    let mut seven = start.clone();
    seven.lung.compartments = vec![start.lung.compartments[0].clone(); 7];
    assert!(Exchange::new(&good.animal, &seven.lung, Apparatus::default()).is_err());
}

/// Instruments have a memory and a noise; neither hangs on how often one looks.
#[test]
fn dials_show_the_same_however_often_one_looks() {
    use tidewright::instrument::Instruments;
    let read = |looks: u32| {
        let mut run = begin(&tidewright_tests::two_node::cat());
        let mut dials = Dials::new(Instruments::ordinary(11)).unwrap();
        for look in 1..=looks {
            let to = Seconds::s(6.0 * f64::from(look) / f64::from(looks));
            run.advance(to, |passing| dials.take(passing)).unwrap();
        }
        dials.drain().collect::<Vec<_>>()
    };
    let once = read(1);
    assert_eq!(once.len(), 301);
    assert_eq!(once, read(7));
    assert_eq!(once, read(640));
}

#[test]
fn a_run_can_be_handed_to_another_thread() {
    fn movable<T: Send + 'static>(_: &T) {}
    let run = with_gas(Species::Cat, 4.0, true, 0.5);
    movable(&run);
    movable(&run.snapshot());
}
