//! Machines at the corners of what may be said either run or refuse, and neither takes long.
//! The example `corners` searches with a clock; here a few are held to the count of steps.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::sync::atomic::Ordering;

use tidewright::coupled::Coupled;
use tidewright::gases::{Mixture, STANDARD_PRESSURE_PA};
use tidewright::prelude::*;
use tidewright::step::{MAX_STEPS_IN_TEN_SECONDS, Mend};
use tidewright::tube::SmoothTube;
use tidewright_tests::corners;

/// Pieces in which ten seconds of machine `k` went by, and how that ended.
fn ten_seconds(k: u64) -> Option<(u32, Result<(), StepError>)> {
    let machine = Machine::new(corners::machine(k)).ok()?;
    let (mut moment, mut pieces) = (Moment::at_rest(&machine), 0);
    while moment.at_s < 10.0 {
        match step(&machine, &moment, 10.0 - moment.at_s) {
            Ok(done) => moment = done.next,
            Err(error) => return Some((pieces, Err(error))),
        }
        pieces += 1;
    }
    Some((pieces, Ok(())))
}

#[test]
fn extremes_of_what_may_be_said_run_or_refuse_within_a_bounded_number_of_steps() {
    let (mut ran, mut stopped) = (0, 0);
    for k in 0..100 {
        let Some((pieces, ended)) = ten_seconds(k) else { continue };
        assert!(pieces <= MAX_STEPS_IN_TEN_SECONDS, "machine {k} took {pieces} pieces");
        match ended {
            Ok(()) => ran += 1,
            Err(StepError::StandsStill { .. } | StepError::Chatter { .. }) => stopped += 1,
            Err(error) => panic!("machine {k}: {error}"),
        }
    }
    assert!(ran > 80 && stopped > 0, "{ran} ran, {stopped} stopped");
}

/// Worst finds of the search: each cost seconds of work, and now says what to change.
#[test]
fn regress_machines_that_crawled_name_the_setting_to_change() {
    for k in [29, 178] {
        let (_, ended) = ten_seconds(k).unwrap();
        let Err(StepError::StandsStill { mend, .. }) = ended else { panic!("{k}: {ended:?}") };
        assert!(matches!(mend, Mend::Compartment(_)), "{k}: {mend:?}");
    }
}

/// Finds of the search whose steps were few and whose reading was not: a pressure that
/// seems to turn in each of thousands of stiff steps, the gas of steps that are not told by
/// their rates, and the breath before the start where one lasts ten minutes.
#[test]
fn regress_what_is_read_of_odd_machines_is_bounded_work_too() {
    for (k, with_gas, most) in CASES {
        let (start, asked) = corners::counted(k);
        let plan = with_gas.then(|| corners::gas(&start));
        let protocol = Protocol { start, changes: vec![], duration: Seconds::s(10.0) };
        let simulation = Simulation::new(&protocol).unwrap();
        asked.store(0, Ordering::Relaxed);
        let mut meter = BreathMeter::default();
        for together in Coupled::new(&simulation, plan.as_ref()).unwrap() {
            let _ = meter.take(&together.unwrap().stretch);
        }
        let asked = asked.load(Ordering::Relaxed);
        assert!(asked > 0 && asked <= most, "machine {k} asked its law {asked} times");
    }
}

/// Machine, with gas or without, and how often its law may be asked.
const CASES: [(u64, bool, u64); 5] = [
    (145, false, 100_000),
    (474, true, 100_000),
    (572, true, 200_000),
    (2588, true, 200_000),
    (6128, true, 60_000),
];

/// A cuff that never leaks gives tube and airway a place between them: one law and two in a
/// row make the same breaths.
#[test]
fn twin_a_sized_tube_and_its_airway_in_one_law_or_two() {
    let gas = Mixture::OXYGEN.properties(37.0, STANDARD_PRESSURE_PA);
    for (bore_mm, flow_l_min) in [(2.5, 1.0), (3.5, 2.0), (5.0, 8.0)] {
        let mut one = Setup::default();
        one.lung.tube = Tube::Sized(SmoothTube::new(bore_mm, 16.0, gas));
        one.ventilator.fresh_gas_flow = Flow::l_per_min(flow_l_min);
        let mut two = one.clone();
        two.lung.cuff = Some(Cuff { seals_to: Pressure::cmh2o(1e6), conductance_ml_s_cmh2o: 1.0 });
        let times = |start: &Setup| -> Vec<f64> {
            let start = start.clone();
            let protocol = Protocol { start, changes: vec![], duration: Seconds::s(60.0) };
            let (breaths, _) = Simulation::new(&protocol).unwrap().breaths_one_by_one().unwrap();
            breaths.iter().map(|breath| breath.inspiratory_time.as_s()).collect()
        };
        let (one, two) = (times(&one), times(&two));
        assert!(one.len() > 5 && one.len() == two.len());
        for (a, b) in one.iter().zip(&two) {
            assert!((a - b).abs() < 1e-9, "{bore_mm} mm: {a} s or {b} s");
        }
    }
}
