//! What ends a phase, and what a breath adds up.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright::phase::{Cause, PhaseKind, Watched, guards};
use tidewright::prelude::*;

/// Law 3 of the steps: of two guards met at the same instant a limit wins over cycling.
#[test]
fn law_3_a_limit_wins_over_cycling_at_one_instant() {
    let machine = Machine::new(Setup::default()).unwrap();
    let part = step(&machine, &Moment::at_rest(&machine), 0.5).unwrap();
    assert_eq!(part.piece.ended_by, None);
    let mut both = Setup::default();
    both.ventilator.inspiratory_time_limit = Seconds::s(0.5);
    both.ventilator.cycling_pressure = Pressure::cmh2o(1.0);
    for (limit_s, cause) in [(0.5, Cause::TimeLimit), (0.6, Cause::PressureReached)] {
        both.ventilator.inspiratory_time_limit = Seconds::s(limit_s);
        let after = Machine::new(both.clone()).unwrap();
        let moment = part.next.under(&after, &machine).unwrap();
        let next = step(&after, &moment, 10.0).unwrap();
        assert_eq!((next.piece.duration_s, next.piece.ended_by), (0.0, Some(cause)));
    }
    let listed =
        guards(&both.ventilator, PhaseKind::Inspiration).map(|guard| guard.unwrap().watched);
    assert_eq!(listed, [Watched::Clock, Watched::SensedPressure]);
}

/// What goes through a linear leak is its conductance times the pressure's time: of a
/// breath, its mean airway pressure times how long it lasted.
#[test]
fn closed_form_a_linear_leak_loses_by_the_mean_pressure() {
    let mut setup = Setup::default();
    setup.circuit.leak = Some(Leak::linear(Flow::ml_s(5.0), Pressure::cmh2o(10.0)));
    let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(30.0) };
    let (breaths, _) = Simulation::new(&protocol).unwrap().breaths().unwrap();
    assert!(breaths.len() > 3);
    for breath in breaths {
        let lasts_s = (breath.inspiratory_time + breath.expiratory_time).as_s();
        let expected = 0.5 * breath.mean_pressure.as_cmh2o() * lasts_s;
        let leaked = breath.leaked.as_ml();
        assert!(expected > 1.0 && (leaked / expected - 1.0).abs() < 1e-9, "{leaked} {expected}");
    }
}
