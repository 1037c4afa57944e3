//! Faults as changes of physics: what each shows at the cat of 4 kg that the
//! teaching notes of this project use, and the rules that all of them keep.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::{run, steady};
use tidewright::fault::{CASES, Fault, TimedFault, cat, signs_table, with_faults};
use tidewright::prelude::*;

fn protocol(start: Setup, duration_s: f64) -> Protocol {
    Protocol { start, changes: vec![], duration: Seconds::s(duration_s) }
}

fn breaths(protocol: &Protocol) -> Vec<Breath> {
    Simulation::new(protocol).unwrap().breaths().unwrap().0
}

#[test]
fn law_a_fault_of_no_severity_is_its_structure_alone() {
    let healthy = Setup::default();
    for &fault in Fault::ALL {
        let prepared = fault.prepare(&healthy);
        for nothing in [0.0, -1.0, f64::NAN] {
            assert_eq!(fault.apply(&healthy, nothing), prepared, "{fault}");
        }
        assert_eq!(fault.prepare(&prepared), prepared, "{fault}");
        assert_ne!(fault.apply(&healthy, 0.5), prepared, "{fault}");
        assert_eq!(fault.apply(&healthy, 7.0), fault.apply(&healthy, 1.0), "{fault}");
    }
}

#[test]
fn law_structure_changes_no_breath() {
    for start in [
        Setup::default(),
        Setup {
            lung: Lung { tube: Tube::Linear(Resistance::cmh2o_s_per_l(12.0)), ..Lung::default() },
            ..Setup::default()
        },
    ] {
        let before = steady(&start);
        for &fault in Fault::ALL {
            let after = steady(&fault.prepare(&start));
            let close = |a: f64, b: f64| (a - b).abs() < 1e-9;
            let volumes = (after.inspired_tidal_volume, before.inspired_tidal_volume);
            assert!(close(volumes.0.as_ml(), volumes.1.as_ml()), "{fault}: {volumes:?}");
            let times = (after.inspiratory_time, before.inspiratory_time);
            assert!(close(times.0.as_s(), times.1.as_s()), "{fault}: {times:?}");
        }
    }
}

#[test]
fn law_half_a_curved_lung_is_half_of_it() {
    let sigmoid = PressureVolume::Sigmoid {
        lower: Volume::ml(-10.0),
        span: Volume::ml(120.0),
        middle: Pressure::cmh2o(8.0),
        width: Pressure::cmh2o(4.0),
    };
    let p = |x: f64| Pressure::cmh2o(x);
    let table = PressureVolume::Table(vec![
        (p(0.0), Volume::ZERO),
        (p(5.0), Volume::ml(40.0)),
        (p(10.0), Volume::ml(60.0)),
    ]);
    let user = PressureVolume::User(UserLaw::new(|v: f64| {
        (v / 6.0 + v * v * v * 1e-5, 1.0 / 6.0 + 3.0 * v * v * 1e-5)
    }));
    for law in [sigmoid, table, user] {
        let mut whole = Setup::default();
        whole.lung.compartments[0].law = law;
        let halves = Fault::OneLungIntubation.prepare(&whole);
        assert_eq!(halves.lung.compartments.len(), 2);
        let (a, b) = (steady(&whole), steady(&halves));
        let miss = (a.inspired_tidal_volume - b.inspired_tidal_volume).as_ml();
        assert!(miss.abs() < 1e-5, "{miss}");
    }
}

#[test]
fn every_fault_comes_and_goes_in_mid_run_in_every_severity() {
    for &fault in Fault::ALL {
        for severity in [0.01, 0.5, 0.99, 1.0] {
            let timed = TimedFault {
                over: Seconds::s(4.0),
                until: Some(Seconds::s(20.0)),
                ..TimedFault::step(fault, severity, Seconds::s(8.0))
            };
            let faulty = with_faults(&protocol(Setup::default(), 40.0), &[timed]);
            let breaths = breaths(&faulty);
            assert!(breaths.len() > 5, "{fault} {severity}");
            for breath in &breaths {
                assert!(breath.inspired_tidal_volume.as_ml().is_finite(), "{fault} {severity}");
            }
        }
    }
}

#[test]
fn every_fault_goes_with_every_other() {
    for &one in Fault::ALL {
        for &other in Fault::ALL {
            let step = |fault, at| TimedFault::step(fault, 0.6, Seconds::s(at));
            let pair = [step(one, 5.0), step(other, 9.0)];
            let faulty = with_faults(&protocol(Setup::default(), 15.0), &pair);
            let done = Simulation::new(&faulty).unwrap().breaths();
            assert!(done.is_ok(), "{one} and {other}: {done:?}");
        }
    }
}

#[test]
fn faults_lie_on_top_of_the_changes_a_person_makes() {
    let mut louder = Setup::default();
    louder.ventilator.cycling_pressure = Pressure::cmh2o(14.0);
    let change = Change { at: Seconds::s(30.0), setup: louder.clone() };
    let own = Protocol { changes: vec![change], ..protocol(Setup::default(), 60.0) };
    let leak = TimedFault {
        until: Some(Seconds::s(40.0)),
        ..TimedFault::step(Fault::CircuitLeak, 0.2, Seconds::s(20.0))
    };
    let kink = TimedFault::step(Fault::KinkedTube, 0.5, Seconds::s(30.0));
    let faulty = with_faults(&own, &[leak, kink]);

    let at: Vec<f64> = faulty.changes.iter().map(|change| change.at.as_s()).collect();
    assert_eq!(at, [20.0, 30.0, 40.0]);
    assert_eq!(faulty.start, Setup::default());
    assert_eq!(faulty.changes[0].setup, Fault::CircuitLeak.apply(&Setup::default(), 0.2));
    let both = Fault::KinkedTube.apply(&Fault::CircuitLeak.apply(&louder, 0.2), 0.5);
    assert_eq!(faulty.changes[1].setup, both);
    assert_eq!(faulty.changes[2].setup, Fault::KinkedTube.apply(&louder, 0.5));
    assert_eq!(faulty, with_faults(&own, &[leak, kink]));
}

#[test]
fn a_fault_that_is_there_from_the_start_is_the_start() {
    let leak = TimedFault::step(Fault::CircuitLeak, 0.4, Seconds::ZERO);
    let faulty = with_faults(&protocol(Setup::default(), 30.0), &[leak]);
    assert_eq!(faulty.changes, []);
    assert_eq!(breaths(&faulty), run(&Fault::CircuitLeak.apply(&Setup::default(), 0.4), 30.0));
}

#[test]
fn times_that_make_no_sense_are_left_to_be_refused() {
    let never = TimedFault::step(Fault::Mucus, 0.5, Seconds::s(f64::NAN));
    let faulty = with_faults(&protocol(Setup::default(), 30.0), &[never]);
    assert!(matches!(Simulation::new(&faulty), Err(ProtocolError::Order { .. })));

    let change = |at| Change { at: Seconds::s(at), setup: Setup::default() };
    let own =
        Protocol { changes: vec![change(9.0), change(3.0)], ..protocol(Setup::default(), 30.0) };
    let fault = TimedFault::step(Fault::Mucus, 0.5, Seconds::s(2.0));
    assert!(matches!(
        Simulation::new(&with_faults(&own, &[fault])),
        Err(ProtocolError::Order { .. })
    ));
}

#[test]
fn names_are_read_back_and_a_wrong_one_is_answered_with_all() {
    for &fault in Fault::ALL {
        assert_eq!(fault.to_string().parse(), Ok(fault));
    }
    let wrong = "kinked".parse::<Fault>().unwrap_err();
    assert!(wrong.to_string().starts_with("`kinked` is no fault: the faults are bronchospasm, "));
}

/// Below, as, or above the healthy breath.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Way {
    Down,
    Same,
    Up,
}
use EndedBy::{Pressure as P, Time as T};
use Way::{Down, Same, Up};

/// What the teaching notes' table of signs says of a fault, column by column:
/// inspiratory time, what ended the breath, rate, tidal volumes at the patient
/// connection in and out, peak pressure, baseline pressure.
type Signs = (Fault, f64, Way, EndedBy, Way, Way, Way, Way, Way);

/// Where the engine's physics and the notes disagree, the physics stands here and
/// the line says why.
const SIGNS: &[Signs] = &[
    // A small leak takes flow from the end of inspiration, so less of the cycling
    // pressure is lost in the airway: volume is up.
    (Fault::CircuitLeak, 0.2, Up, P, Down, Up, Up, Same, Same),
    (Fault::CircuitHole, 0.2, Up, P, Down, Up, Up, Same, Same),
    // The spirometer sits on the patient's side of a circuit leak: in and out agree.
    (Fault::CircuitLeak, 1.0, Up, T, Down, Down, Down, Down, Same),
    // What goes past the cuff is counted on its way in and never comes back.
    (Fault::CuffLeak, 0.8, Up, T, Down, Up, Down, Down, Same),
    (Fault::PatientDisconnected, 1.0, Up, T, Down, Down, Down, Down, Down),
    (Fault::FreshGasHoseOff, 1.0, Up, T, Down, Down, Down, Down, Down),
    // A sagging flow loses less in the airway and brings more volume, until it
    // meets the time limit.
    (Fault::FreshGasFailing, 0.3, Up, P, Down, Up, Up, Same, Same),
    (Fault::FreshGasFailing, 1.0, Up, T, Down, Down, Down, Down, Down),
    (Fault::CylinderEmptying, 0.5, Up, T, Down, Down, Down, Down, Down),
    (Fault::KinkedTube, 0.55, Down, P, Up, Down, Down, Same, Same),
    (Fault::KinkedTube, 1.0, Down, P, Up, Down, Down, Same, Same),
    (Fault::FlapAgainstInspiration, 0.55, Down, P, Up, Down, Down, Same, Same),
    (Fault::FlapAgainstExpiration, 1.0, Down, P, Up, Down, Down, Same, Same),
    (Fault::Mucus, 0.8, Down, P, Up, Down, Down, Same, Same),
    (Fault::LimbBlocked, 0.85, Down, P, Up, Down, Down, Same, Up),
    (Fault::ScavengingBlocked, 0.85, Down, P, Up, Down, Down, Same, Up),
    (Fault::WaterInLimb, 0.4, Down, P, Up, Down, Down, Same, Up),
    (Fault::LimbDisconnected, 1.0, Up, T, Down, Down, Down, Down, Same),
    (Fault::ValveStuckOpen, 1.0, Up, T, Down, Down, Down, Down, Same),
    // The notes say that inspiration never ends. The cycling pressure is passed all
    // the same, so the ventilator opens its valve in vain: every inspiration ends as
    // it begins, and 'baseline' is the relief pressure. Volume has climbed before.
    (Fault::ValveStuckShut, 1.0, Down, P, Up, Down, Down, Up, Up),
    (Fault::LimbBlocked, 1.0, Down, P, Up, Down, Down, Up, Up),
    // True pressure goes past the cycling pressure; the ventilator's gauge reads 0.
    (Fault::SenseLineOff, 1.0, Up, T, Down, Up, Up, Up, Same),
    (Fault::SenseLineBlocked, 1.0, Up, T, Down, Up, Up, Up, Same),
    (Fault::GaugeReadsHigh, 0.8, Down, P, Up, Down, Down, Down, Same),
    (Fault::GaugeReadsLow, 0.8, Up, P, Down, Up, Up, Up, Same),
    (Fault::Bronchospasm, 1.0, Down, P, Up, Down, Down, Same, Same),
    (Fault::OneLungIntubation, 1.0, Down, P, Up, Down, Down, Same, Same),
    (Fault::ClosedPneumothorax, 1.0, Down, P, Up, Down, Down, Same, Same),
    (Fault::TensionPneumothorax, 1.0, Down, P, Up, Down, Down, Same, Same),
    // An open chest leaks: longer, and less comes back than went in.
    (Fault::OpenPneumothorax, 0.3, Up, P, Down, Up, Down, Same, Same),
    (Fault::CompressedChest, 1.0, Down, P, Up, Down, Down, Same, Same),
    (Fault::CompressedAbdomen, 1.0, Down, P, Up, Down, Down, Same, Same),
    // The notes had a linear outlet; a narrow one stands above the cycling pressure.
    (Fault::OxygenFlush, 1.0, Down, P, Up, Down, Down, Up, Up),
];

#[test]
fn law_a_switch_is_whole_at_any_severity() {
    for &fault in Fault::ALL {
        let apply = |severity| fault.apply(&cat(), severity);
        assert_eq!(apply(0.3) == apply(1.0), fault.is_switch(), "{fault}");
    }
}

#[test]
fn law_faults_of_the_patient_leave_circuit_and_ventilator_alone_and_the_others_the_patient() {
    for &fault in Fault::ALL {
        let (before, after) = (cat(), fault.apply(&cat(), 0.5));
        let patient = after.lung == before.lung && after.effort == before.effort;
        let machine = after.circuit == before.circuit && after.ventilator == before.ventilator;
        assert_eq!(
            (patient, machine),
            if fault.is_of_the_patient() { (false, true) } else { (true, false) },
            "{fault}"
        );
    }
}

#[test]
fn each_fault_moves_every_column_of_the_table_of_signs_as_its_physics_does() {
    let healthy = *breaths(&protocol(cat(), 100.0)).last().unwrap();
    // What is seen on a gauge or a spirometer: 2 % of the healthy value or 0.1 cmH2O.
    let way = |value: f64, usual: f64, seen: f64| match value - usual {
        difference if difference > seen => Up,
        difference if difference < -seen => Down,
        _ => Same,
    };
    for &(fault, severity, time, ended_by, rate, inspired, expired, peak, baseline) in SIGNS {
        let case = CASES.iter().find(|case| case.fault == fault && case.severity == severity);
        let all = case.unwrap_or_else(|| panic!("{fault} {severity} is no case")).breaths();
        let breath = *all.unwrap().last().unwrap();
        let by_share = |of: fn(&Breath) -> f64| way(of(&breath), of(&healthy), 0.02 * of(&healthy));
        let by_pressure = |of: fn(&Breath) -> f64| way(of(&breath), of(&healthy), 0.1);
        let shown = (
            by_share(|b| b.inspiratory_time.as_s()),
            breath.ended_by,
            by_share(Breath::rate_per_min),
            by_share(|b| b.inspired_at_airway.as_ml()),
            by_share(|b| b.expired_at_airway.as_ml()),
            by_pressure(|b| b.peak_pressure.as_cmh2o()),
            by_pressure(|b| b.baseline_pressure.as_cmh2o()),
        );
        let expected = (time, ended_by, rate, inspired, expired, peak, baseline);
        assert_eq!(shown, expected, "{fault} {severity}: {breath:?}");
    }
    assert_eq!(SIGNS.len(), CASES.len());
    let is_effort = |fault: &&Fault| fault.apply(&cat(), 1.0).effort != cat().effort;
    for fault in Fault::ALL.iter().filter(|fault| !is_effort(fault)) {
        assert!(SIGNS.iter().any(|signs| signs.0 == *fault), "{fault} has no signs");
    }
}

#[test]
fn regress_the_table_of_signs() {
    insta::assert_snapshot!("table-of-signs", signs_table());
}

#[test]
fn closed_form_a_large_leak_holds_pressure_below_flow_over_conductance() {
    // 2 L/min and 5 mL/s for each cmH2O: 6.67 cmH2O is never passed.
    let leak = Fault::CircuitLeak.apply(&cat(), 1.0);
    let peak = steady(&leak).peak_pressure.as_cmh2o();
    assert!(peak < 2000.0 / 60.0 / 5.0 && peak > 5.5, "{peak}");
}

#[test]
fn closed_form_a_shut_valve_lets_pressure_climb_by_flow_over_compliance() {
    let mut setup = Fault::ValveStuckShut.apply(&cat(), 1.0);
    setup.circuit.relief = None;
    let simulation = Simulation::new(&protocol(setup, 30.0)).unwrap();
    let trace = simulation.trace().unwrap();
    let at = |s| trace.at(Seconds::s(s), Signal::AirwayPressure).unwrap();
    // Lung, T-piece and limb take up 2 L/min.
    let pace = (at(20.0) - at(10.0)) / 10.0;
    assert!((pace - 2000.0 / 60.0 / (4.8 + 0.15 + 0.3)).abs() < 1e-9, "{pace}");
}

#[test]
fn closed_form_a_narrow_limb_gives_a_baseline_of_flow_times_resistance() {
    for (severity, expiratory_s) in [(0.5, 20.0), (0.8, 20.0)] {
        let mut setup = Fault::LimbBlocked.apply(&cat(), severity);
        setup.ventilator.expiratory_time = Seconds::s(expiratory_s);
        let area: f64 = 1.0 - severity;
        let expected = 2.0 / 60.0 * (3.0 / (area * area) + 2.0);
        let baseline = steady(&setup).baseline_pressure.as_cmh2o();
        assert!((baseline - expected).abs() < 1e-6, "{baseline} is not {expected}");
    }
}

#[test]
fn a_tension_pneumothorax_grows_breath_by_breath() {
    let case = CASES.iter().find(|case| case.fault == Fault::TensionPneumothorax).unwrap();
    let all = case.breaths().unwrap();
    let times: Vec<f64> = all
        .iter()
        .filter(|breath| breath.start > Seconds::s(25.0))
        .map(|breath| breath.inspiratory_time.as_s())
        .collect();
    assert!(times.windows(2).all(|pair| pair[1] <= pair[0] + 1e-6), "{times:?}");
    assert!(times[0] > 1.2 * times[times.len() - 1], "{times:?}");
}

#[test]
fn a_flap_against_expiration_fills_the_lung_and_keeps_it_full() {
    let flap = CASES.iter().find(|case| case.fault == Fault::FlapAgainstExpiration).unwrap();
    let last = *flap.breaths().unwrap().last().unwrap();
    assert!(last.end_expiratory_alveolar_pressure > Pressure::cmh2o(9.0));
    assert!(last.baseline_pressure < Pressure::cmh2o(0.3));
}

/// The notes: effort late in an inspiration makes it longer and larger; coughs and
/// bracing end it early with less in it. No two breaths are alike.
#[test]
fn efforts_make_breaths_unlike_each_other_each_in_its_own_way() {
    let healthy = *breaths(&protocol(cat(), 100.0)).last().unwrap();
    let times = |fault: Fault| -> Vec<f64> {
        let onset = TimedFault::step(fault, 0.5, Seconds::s(20.0));
        let all = breaths(&with_faults(&protocol(cat(), 100.0), &[onset]));
        let after = all.iter().filter(|breath| breath.start > Seconds::s(20.0));
        after.map(|b| b.inspiratory_time.as_s() / healthy.inspiratory_time.as_s()).collect()
    };
    let (longest, shortest) = (f64::max, f64::min);
    let extreme = |fault, of: fn(f64, f64) -> f64| times(fault).into_iter().reduce(of).unwrap();
    assert!(extreme(Fault::OwnBreaths, longest) > 1.1);
    assert!(extreme(Fault::Coughing, shortest) < 0.8);
    assert!(extreme(Fault::Bracing, shortest) < 0.8);
}

/// Common practice, no source: nobody flushes into a connected small patient. The
/// number is the closed form of the assumed outlet, R·Q + k₂·Q².
#[test]
fn practice_a_flush_into_a_small_patient_holds_a_dangerous_pressure() {
    let flushed = Fault::OxygenFlush.apply(&cat(), 1.0);
    let q = flushed.ventilator.fresh_gas_flow.as_l_per_min() / 60.0;
    let expected = 5.0 * q + 40.0 * q * q;
    let start = Protocol { start: flushed, changes: vec![], duration: Seconds::s(20.0) };
    let (breaths, _) = Simulation::new(&start).unwrap().breaths().unwrap();
    let last = breaths.last().unwrap();
    assert!((last.baseline_pressure.as_cmh2o() - expected).abs() < 0.05, "{last:?}");
    assert!(expected > 1.5 * cat().ventilator.cycling_pressure.as_cmh2o(), "{expected}");
    assert!(last.end_expiratory_alveolar_pressure.as_cmh2o() > 15.0, "{last:?}");
    // What the equipment states is kept, and ordinary flow hardly meets it.
    let mut wide = cat();
    wide.circuit.outlet_k2 = 1.0;
    assert_eq!(Fault::OxygenFlush.apply(&wide, 1.0).circuit.outlet_k2, 1.0);
    assert_eq!(cat().circuit.outlet_k2, 0.0);
}
