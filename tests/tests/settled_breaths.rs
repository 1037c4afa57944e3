//! Breaths that are recognised as those of before, and not worked out again, are
//! the breaths that working them out gives: to the last bit, on every road.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::machines::{bent, cases, frame, protocol, setup};
use proptest::prelude::*;
use tidewright::prelude::*;

/// Every digit of both answers.
fn told(simulation: &Simulation) -> [String; 2] {
    // An f64 is told with as many digits as it takes to tell it from every other.
    let text = |answer: Result<_, StepError>| format!("{answer:?}");
    [text(simulation.breaths()), text(simulation.breaths_one_by_one())]
}

proptest! {
    #![proptest_config(cases(100))]

    #[test]
    fn law_7_recognised_breaths_are_those_worked_out_on_the_exact_road(
        protocol in protocol(frame()),
        duration_s in 10.0..300.0_f64,
    ) {
        let protocol = Protocol { duration: Seconds::s(duration_s), ..protocol };
        let [recognised, worked_out] = told(&Simulation::new(&protocol).unwrap());
        prop_assert_eq!(recognised, worked_out);
    }
}

proptest! {
    #![proptest_config(cases(25))]

    #[test]
    fn law_7_recognised_breaths_are_those_worked_out_on_the_numeric_road(
        start in bent(frame().prop_flat_map(setup)),
        duration_s in 10.0..100.0_f64,
    ) {
        let protocol = Protocol { start, changes: vec![], duration: Seconds::s(duration_s) };
        let simulation = Simulation::with_solver(&protocol, Solver::Numeric).unwrap();
        let [recognised, worked_out] = told(&simulation);
        prop_assert_eq!(recognised, worked_out);
    }
}

/// A run cut short in every part of a settled breath, changed in the middle of
/// one, and one that stands by for a while.
#[test]
fn law_7_recognised_breaths_stop_where_the_run_or_the_setup_does() {
    let cat = tidewright_tests::two_node::cat();
    let (mut leaking, mut standby) = (cat.clone(), cat.clone());
    leaking.circuit.leak = Some(Leak::linear(Flow::ml_s(15.0), Pressure::cmh2o(30.0)));
    standby.ventilator.mode = Mode::Standby;
    for i in 0..200 {
        let later = 0.037 * f64::from(i);
        let change =
            |at_s: f64, setup: &Setup| Change { at: Seconds::s(at_s), setup: setup.clone() };
        let protocol = Protocol {
            start: cat.clone(),
            changes: vec![
                change(100.0 + later, &leaking),
                change(200.0 + 2.0 * later, &standby),
                change(203.0 + 2.0 * later, &cat),
            ],
            duration: Seconds::s(300.0 + 3.0 * later),
        };
        let [recognised, worked_out] = told(&Simulation::new(&protocol).unwrap());
        assert_eq!(recognised, worked_out);
    }
}
