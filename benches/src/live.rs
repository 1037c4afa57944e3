//! What it costs to own a run: branches of it, and a session that goes back.

use std::sync::Arc;
use std::time::Duration;

use tidewright::coupled::{Coupled, GasLimits, GasPlan, GasSettings, GasTotals};
use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
use tidewright::live::LiveRun;
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};
use tidewright_training::Session;

use crate::study::best;

/// A cat whose gas is followed, on a ventilator.
///
/// # Panics
/// Never: it is a machine that runs.
#[must_use]
pub fn cat_with_gas() -> (Setup, GasPlan) {
    let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
    let mut setup = Setup { lung: cat.lung(), ..Setup::default() };
    setup.ventilator.fresh_gas_flow = Flow::l_per_min(2.0);
    setup.ventilator.expiratory_time = Seconds::s(2.5);
    let exchange = Exchange::new(&cat, &setup.lung, Apparatus::default()).expect("a lung");
    let plan = GasPlan {
        arterial_carbon_dioxide: PartialPressure::mmhg(38.0),
        capnograph: Capnograph::new(Seconds::s(1.5), Seconds::s(0.2)),
        start: GasSettings {
            conditions: Conditions::of(&cat, 38.5, Fractions::OXYGEN),
            drive: None,
        },
        changes: vec![],
        animal: cat,
        exchange,
    };
    (setup, plan)
}

/// A branch at ten minutes of a run: to save it, let a minute pass and go back; and the
/// same minute without saving and going back.
#[derive(Clone, Copy, Debug)]
pub struct Branch {
    /// With saving and going back.
    pub whole: Duration,
    /// Without.
    pub steps: Duration,
}

impl Branch {
    /// What the branch costs beyond the steps.
    #[must_use]
    pub fn beyond(&self) -> Duration {
        self.whole.saturating_sub(self.steps)
    }
}

/// Branches of a run.
///
/// # Panics
/// If the run cannot go on.
#[must_use]
pub fn branch(mut run: LiveRun, rounds: u32) -> Branch {
    let go_on = |run: &mut LiveRun| {
        let to = run.now() + Seconds::s(60.0);
        run.advance(to, |_| {}).expect("a run that goes on");
    };
    // In the middle of a step, as a branch begins anywhere.
    run.advance(Seconds::s(600.123), |_| {}).expect("a run that goes on");
    // The same minute by itself: another may hold another breath.
    let here = run.snapshot();
    let steps = (0..rounds).map(|_| {
        run.restore(&here);
        best(1, || go_on(&mut run)).0
    });
    let steps = steps.min().unwrap_or_default();
    run.restore(&here);
    let (whole, ()) = best(rounds, || {
        let saved = run.snapshot();
        go_on(&mut run);
        run.restore(&saved);
    });
    Branch { whole, steps }
}

/// Branches of the linear cat on a road of one's choice.
///
/// # Panics
/// Never: it is a machine that runs.
#[must_use]
pub fn branch_of_cat(protocol: Protocol, rounds: u32) -> Branch {
    branch(LiveRun::new(protocol.start).expect("a machine that runs"), rounds)
}

/// Branches of a run with gas.
///
/// # Panics
/// Never: it is a machine that runs.
#[must_use]
pub fn branch_with_gas(rounds: u32) -> Branch {
    let (setup, plan) = cat_with_gas();
    let machine = Arc::new(Machine::new(setup).expect("a machine that runs"));
    branch(LiveRun::with_gas(machine, &plan).expect("a plan for it"), rounds)
}

/// An hour with gas and its totals.
///
/// # Panics
/// Never: it is a machine that runs.
#[must_use]
pub fn hour_with_gas(rounds: u32) -> Duration {
    let (start, plan) = cat_with_gas();
    let protocol = Protocol { start, changes: vec![], duration: Seconds::s(3600.0) };
    let simulation = Simulation::new(&protocol).expect("a machine that runs");
    let hour = || {
        let mut totals = GasTotals::new(GasLimits::default());
        for together in Coupled::new(&simulation, Some(&plan)).expect("a plan for it") {
            let together = together.expect("a run that goes on");
            totals.take(&together.gas.expect("the run has gas"));
        }
        totals
    };
    best(rounds, hour).0
}

/// To save a session and go back to it at once, when it is so old, s.
///
/// # Panics
/// If the lesson of the repository cannot be played.
#[must_use]
pub fn session_goes_back(text: &str, age_s: f64, rounds: u32) -> Duration {
    let mut scenario = tidewright_scenario::parse("lesson.ron", text).expect("a valid lesson");
    scenario.duration_s = age_s + 60.0;
    let mut session = Session::with_case(Arc::new(scenario), 1, None).expect("a lesson");
    session.play(age_s).expect("a session that goes on");
    assert!((session.now_s() - age_s).abs() < 1e-9, "it ended at {} s", session.now_s());
    let (time, ()) = best(rounds, || {
        let saved = session.save();
        session.go_back(&saved);
    });
    time
}
