//! Faults as changes of physics: what each shows at the cat of 4 kg that the
//! teaching notes of this project use, and the rules that all of them keep.

mod common;

use common::{run, steady};
use tidewright::fault::{Fault, TimedFault, with_faults};
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
