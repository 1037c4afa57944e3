//! The eight laws of time of `tidewright::step`, each under its number.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::machines::{bent, cases, frame, protocol, setup};
use proptest::prelude::*;
use tidewright::prelude::*;
use tidewright::step::MAX_CHANGES_AT_ONE_INSTANT;

/// A sealed circuit of 1 mL/cmH2O that 8 mL/s fill: 4 cmH2O after exactly 0.5 s.
fn sealed() -> Setup {
    let mut setup = Setup::default();
    setup.circuit.compliance = Compliance::ml_per_cmh2o(1.0);
    setup.circuit.patient_port = PatientPort::Blocked;
    setup.ventilator.fresh_gas_flow = Flow::ml_s(8.0);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(4.0);
    setup
}

fn rigid() -> Setup {
    let mut setup = Setup::default();
    setup.circuit.compliance = Compliance::ZERO;
    setup.ventilator.fresh_gas_flow = Flow::ml_s(22.0);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(10.0);
    setup.ventilator.inspiratory_time_limit = Seconds::s(3.0);
    setup.ventilator.expiratory_time = Seconds::s(1.2);
    setup
}

#[test]
fn a_horizon_that_is_no_time_lets_none_pass() {
    for horizon_s in [0.0, -1.0, f64::NEG_INFINITY, f64::NAN] {
        assert_eq!(first_step(sealed(), horizon_s), (0.0, None), "{horizon_s}");
    }
    assert_eq!(first_step(sealed(), f64::INFINITY).1, Some(Cause::PressureReached));
}

/// How long the first step lasts, s, and what ends it.
fn first_step(setup: Setup, horizon_s: f64) -> (f64, Option<Cause>) {
    let machine = Machine::new(setup).unwrap();
    let piece = step(&machine, &Moment::at_rest(&machine), horizon_s).unwrap().piece;
    (piece.duration_s, piece.ended_by)
}

fn simulate(start: Setup, changes: Vec<(f64, Setup)>, duration_s: f64) -> Simulation {
    let changes =
        changes.into_iter().map(|(at, setup)| Change { at: Seconds::s(at), setup }).collect();
    Simulation::new(&Protocol { start, changes, duration: Seconds::s(duration_s) }).unwrap()
}

#[test]
fn law_1_pieces_cover_the_run_and_an_event_belongs_to_the_piece_it_ends() {
    let simulation = simulate(rigid(), vec![], 20.0);
    let trace = simulation.trace().unwrap();
    assert_eq!(trace.stretches[0].piece.start_s, 0.0);
    for pair in trace.stretches.windows(2) {
        assert_eq!(pair[0].piece.end_s(), pair[1].piece.start_s);
    }
    assert_eq!(trace.stretches.last().unwrap().piece.end_s(), 20.0);
    // A rigid circuit jumps at the event: the event itself still shows 10 cmH2O.
    for event in trace.events().filter(|event| event.cause == Cause::PressureReached) {
        let shown = trace.at(event.at, Signal::AirwayPressure).unwrap();
        assert!((shown - 10.0).abs() < 1e-9, "{shown} cmH2O");
    }
}

#[test]
fn law_2_stored_gas_is_continuous_and_flows_jump() {
    let simulation = simulate(rigid(), vec![], 3.0);
    let trace = simulation.trace().unwrap();
    let (before, after) = (&trace.stretches[0], &trace.stretches[1]);
    let last = |signal| before.piece.last(signal);
    let first = |signal| after.piece.first(signal);
    assert!((last(Signal::LungVolume) - first(Signal::LungVolume)).abs() < 1e-13);
    // The lung stands at 9.56 cmH2O; it and 22 mL/s now leave by 5 cmH2O·s/L, of
    // the 25 in all that the lung sees.
    assert!((last(Signal::AirwayPressure) - 10.0).abs() < 1e-12);
    let outflow = (9.56 - 0.005 * 22.0) / 0.025;
    assert!((first(Signal::AirwayPressure) - 0.005 * (22.0 + outflow)).abs() < 1e-12);
    assert!((last(Signal::AirwayFlow) - 22.0).abs() < 1e-11);
    assert!((first(Signal::AirwayFlow) + outflow).abs() < 1e-11);
}

#[test]
fn law_2_gas_stays_in_its_place_whatever_part_of_the_setup_changes() {
    let start = || {
        let mut setup = Setup::default();
        let part =
            |c, r| Compartment::new(Compliance::ml_per_cmh2o(c), Resistance::cmh2o_s_per_l(r));
        setup.lung.compartments = vec![part(4.0, 20.0), part(2.0, 80.0)];
        setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(5.0);
        setup
    };
    let tube = |setup: &mut Setup| setup.lung.tube = Tube::Linear(Resistance::cmh2o_s_per_l(9.0));
    let port = |port| move |setup: &mut Setup| setup.circuit.patient_port = port;
    let (blocked, open) = (port(PatientPort::Blocked), port(PatientPort::Open));
    let leak = |setup: &mut Setup| {
        setup.circuit.leak = Some(Leak::linear(Flow::ml_s(9.0), Pressure::cmh2o(9.0)));
    };
    let stiff = |setup: &mut Setup| {
        setup.lung.compartments[0].compliance = Compliance::ml_per_cmh2o(1.0);
    };
    let peep = |setup: &mut Setup| setup.ventilator.end_expiratory_pressure = Pressure::ZERO;
    let changes: [&dyn Fn(&mut Setup); 6] = [&tube, &blocked, &open, &leak, &stiff, &peep];
    for first in changes {
        for second in changes {
            let mut setups = [start(), start(), start()];
            first(&mut setups[1]);
            second(&mut setups[2]);
            let [one, two, three] = setups;
            let simulation = simulate(one, vec![(0.4, two), (1.3, three)], 3.0);
            let trace = simulation.trace().unwrap();
            for pair in trace.stretches.windows(2) {
                for signal in [Signal::LungVolume, Signal::CircuitVolume] {
                    let before = pair[0].piece.last(signal);
                    let after = pair[1].piece.first(signal);
                    assert!((before - after).abs() < 1e-12, "{signal:?}: {before} mL, {after} mL");
                }
            }
        }
    }
}

#[test]
fn law_3_of_two_guards_at_one_instant_the_limit_wins_and_both_win_over_the_horizon() {
    let mut both = sealed();
    both.ventilator.inspiratory_time_limit = Seconds::s(0.5);
    assert_eq!(first_step(both, 10.0), (0.5, Some(Cause::TimeLimit)));

    let mut at_once = sealed();
    at_once.ventilator.inspiratory_time_limit = Seconds::ZERO;
    at_once.ventilator.cycling_pressure = Pressure::cmh2o(-1.0);
    assert_eq!(first_step(at_once, 10.0).1, Some(Cause::TimeLimit));

    assert_eq!(first_step(sealed(), 0.5), (0.5, Some(Cause::PressureReached)));
    let mut timed = sealed();
    timed.ventilator.inspiratory_time_limit = Seconds::s(0.25);
    assert_eq!(first_step(timed, 0.25).1, Some(Cause::TimeLimit));
}

#[test]
fn law_4_a_guard_already_met_ends_the_phase_at_once_and_expiration_lets_time_pass() {
    // Nothing but a leak that needs 5 cmH2O to pass the flow, on a rigid circuit.
    let mut setup = rigid();
    setup.circuit.patient_port = PatientPort::Blocked;
    setup.circuit.leak = Some(Leak::linear(Flow::ml_s(20.0), Pressure::cmh2o(5.0)));
    setup.ventilator.cycling_pressure = Pressure::cmh2o(5.0);
    setup.ventilator.expiratory_time = Seconds::s(0.125);
    let breaths = common::run(&setup, 10.0);
    assert_eq!(breaths.len(), 80);
    for breath in breaths {
        assert_eq!(breath.inspiratory_time, Seconds::ZERO);
        assert_eq!(breath.ended_by, EndedBy::Pressure);
        assert_eq!(breath.rate_per_min(), 480.0);
    }
}

#[test]
fn law_5_a_change_ends_a_piece_exactly_at_its_time_and_the_phase_goes_on() {
    let mut faster = sealed();
    faster.ventilator.fresh_gas_flow = Flow::ml_s(16.0);
    let simulation = simulate(sealed(), vec![(0.1, faster)], 3.0);
    let trace = simulation.trace().unwrap();
    let [one, two] = [&trace.stretches[0].piece, &trace.stretches[1].piece];
    assert_eq!((one.duration_s, one.ended_by), (0.1, None));
    assert_eq!((two.start_s, two.phase_elapsed_s), (0.1, 0.1));
    assert_eq!(two.phase, PhaseKind::Inspiration);
    // 0.8 mL are in, 3.2 mL more come at 16 mL/s.
    assert!((two.duration_s - 0.2).abs() < 1e-15);

    // A limit that is already over when it is set ends the phase there and then.
    let mut short = sealed();
    short.ventilator.inspiratory_time_limit = Seconds::s(0.05);
    let simulation = simulate(sealed(), vec![(0.1, short)], 3.0);
    let trace = simulation.trace().unwrap();
    assert_eq!(trace.events().next().unwrap().at, Seconds::s(0.1));
}

#[test]
fn law_5_a_kink_of_the_effort_ends_a_piece_and_the_phase_goes_on() {
    let mut setup = Setup::default();
    setup.ventilator.mode = Mode::Standby;
    setup.effort = Effort::breaths(Pressure::cmh2o(5.0), Seconds::s(0.75), Seconds::s(2.0));
    let simulation = simulate(setup, vec![], 6.0);
    let starts: Vec<f64> = simulation.steps().map(|s| s.unwrap().piece.start_s).collect();
    assert_eq!(starts, [0.0, 0.75, 2.0, 2.75, 4.0, 4.75]);
    assert!(simulation.steps().all(|stretch| stretch.unwrap().piece.ended_by.is_none()));
}

#[test]
fn law_6_phases_that_end_as_fast_as_they_begin_are_an_error_that_names_the_settings() {
    let mut setup = sealed();
    setup.ventilator.expiratory_time = Seconds::ZERO;
    setup.ventilator.inspiratory_time_limit = Seconds::ZERO;
    let error = simulate(setup, vec![], 3.0).breaths().unwrap_err();
    assert!(matches!(error, StepError::Chatter { at_s: 0.0, .. }));
    let text = error.to_string();
    for setting in ["expiratory time of 0 s", "time limit 0 s", "cycling pressure 4 cmH2O"] {
        assert!(text.contains(setting), "{text}");
    }

    // Up to the stated number is no error: inspirations that end at once, each
    // followed by an expiration that takes time.
    let mut cycling = sealed();
    cycling.ventilator.inspiratory_time_limit = Seconds::ZERO;
    let simulation = simulate(cycling, vec![], 60.0);
    let machine = simulation.machines().next().unwrap().0;
    let mut moment = Moment::at_rest(machine);
    for _ in 0..20 {
        assert!(moment.changes_at_this_instant <= MAX_CHANGES_AT_ONE_INSTANT);
        moment = step(machine, &moment, 60.0).unwrap().next;
    }
}

#[test]
fn law_6_breaths_of_a_microsecond_are_an_error_before_they_fill_the_memory() {
    let mut setup = sealed();
    setup.ventilator.expiratory_time = Seconds::s(1e-6);
    setup.ventilator.inspiratory_time_limit = Seconds::ZERO;
    let simulation = simulate(setup.clone(), vec![], 600.0);
    let error = simulation.breaths().unwrap_err();
    assert!(matches!(error, StepError::Chatter { at_s, .. } if at_s < 0.001), "{error}");
    assert!(error.to_string().contains("expiratory time of 0.000001 s"), "{error}");
    assert_eq!(simulation.breaths_one_by_one().unwrap_err(), error);

    // Fast, but not beyond all valves: a hundred cycles a second.
    setup.ventilator.expiratory_time = Seconds::s(0.01);
    let (breaths, _) = simulate(setup, vec![], 60.0).breaths().unwrap();
    assert!((5990..=6000).contains(&breaths.len()), "{} breaths", breaths.len());
}

#[test]
fn law_6_time_too_short_for_the_clock_is_no_time() {
    // A nanosecond is below the resolution of a clock that shows a year.
    let mut setup = sealed();
    setup.ventilator.expiratory_time = Seconds::s(1e-9);
    setup.ventilator.inspiratory_time_limit = Seconds::ZERO;
    let machine = Machine::new(setup).unwrap();
    let mut moment = Moment::at_rest(&machine);
    moment.at_s = 365.0 * 86_400.0;
    let error = (0..100).find_map(|_| match step(&machine, &moment, 60.0) {
        Ok(done) => {
            moment = done.next;
            None
        }
        Err(error) => Some(error),
    });
    assert!(matches!(error, Some(StepError::Chatter { .. })));
}

#[test]
fn law_7_a_piece_does_not_know_what_time_it_is() {
    let machine = Machine::new(tidewright_tests::two_node::cat()).unwrap();
    let mut early = Moment::at_rest(&machine);
    let mut late = early;
    late.at_s = 1e6 / 3.0;
    for _ in 0..40 {
        let (one, two) =
            (step(&machine, &early, 60.0).unwrap(), step(&machine, &late, 60.0).unwrap());
        assert_eq!(one.piece.duration_s.to_bits(), two.piece.duration_s.to_bits());
        for signal in Signal::ALL {
            for read in [Piece::last, Piece::integral] {
                let values = [&one, &two].map(|step| read(&step.piece, signal));
                assert_eq!(values[0].to_bits(), values[1].to_bits());
            }
        }
        (early, late) = (one.next, two.next);
    }
}

/// What came in and did not stay, less what went out, mL; what passed or was held
/// at most, mL; and the rounding of the flow through the widest way out, which is
/// a conductance times a difference of two pressures.
fn gas_balance(stretch: &Stretch<'_>) -> (f64, f64, f64) {
    let (machine, piece) = (stretch.machine, &stretch.piece);
    let setup = machine.setup();
    let passed = |signal| piece.integral(signal);
    let gained = |signal| piece.last(signal) - piece.first(signal);
    let parts = [
        setup.ventilator.fresh_gas_flow.as_ml_s() * piece.duration_s,
        -gained(Signal::LungVolume),
        -gained(Signal::CircuitVolume),
        -passed(Signal::LeakFlow),
        -passed(Signal::ReliefFlow),
        -passed(Signal::OutletFlow),
        -passed(Signal::RoomFlow),
    ];
    let wall = setup.lung.chest_wall.map_or(0.0, |wall| wall.pressed_by.as_cmh2o());
    let highest = [
        Signal::AirwayPressure,
        Signal::SensedPressure,
        Signal::AlveolarPressure,
        Signal::PleuralPressure,
        Signal::MusclePressure,
    ]
    .into_iter()
    .map(|signal| piece.range(signal))
    .flat_map(|(low, high)| [low.abs(), high.abs()])
    .chain([setup.ventilator.end_expiratory_pressure.as_cmh2o().abs(), wall.abs()])
    .fold(0.0, f64::max);
    let compliance = setup.lung.total_compliance() + setup.circuit.compliance;
    let held = compliance.as_ml_per_cmh2o() * highest;
    let port = match setup.circuit.patient_port {
        PatientPort::Open => tidewright::machine::OPEN_PORT_RESISTANCE.as_cmh2o_s_per_l(),
        _ => f64::INFINITY,
    };
    let widest = 1000.0 / setup.circuit.valve_resistance.as_cmh2o_s_per_l().min(port);
    let rounding = 8.0 * f64::EPSILON * widest * highest * piece.duration_s;
    (parts.iter().sum(), parts.iter().map(|part| part.abs()).sum::<f64>() + held, rounding)
}

#[test]
fn law_8_ten_minutes_of_breathing_lose_no_gas() {
    let simulation = simulate(tidewright_tests::two_node::cat(), vec![], 600.0);
    let (mut lost, mut passed) = (0.0, 0.0);
    for stretch in simulation.steps() {
        let stretch = stretch.unwrap();
        lost += gas_balance(&stretch).0;
        passed += 22.0 * stretch.piece.duration_s;
    }
    assert!(f64::abs(lost) < 1e-14 * passed, "{lost:e} mL of {passed} mL");
}

proptest! {
    #![proptest_config(cases(1000))]

    #[test]
    fn law_8_gas_is_conserved_in_every_piece_of_any_run(
        protocol in protocol(frame())
    ) {
        let simulation = Simulation::new(&protocol).unwrap();
        for stretch in simulation.steps() {
            let stretch = stretch.unwrap();
            let (lost, passed, rounding) = gas_balance(&stretch);
            prop_assert!(
                // A femtolitre is what hidden stresses round to as they relax.
                lost.abs() <= 1e-12 * passed + rounding + 1e-12,
                "{lost:e} of {passed} mL lost in {:?}", stretch.piece
            );
        }
    }

    #[test]
    fn law_8_gas_is_conserved_on_the_numeric_road_within_its_tolerance(
        setup in bent(frame().prop_flat_map(setup))
    ) {
        let simulation = simulate(setup, vec![], 2.0);
        for stretch in simulation.steps().take(3000) {
            // What is too stiff is refused, and then nothing more is told.
            let stretch = match stretch {
                Err(StepError::StandsStill { .. }) => break,
                stretch => stretch.unwrap(),
            };
            let (lost, passed, rounding) = gas_balance(&stretch);
            prop_assert!(
                lost.abs() <= 1e-7 * passed + rounding + 1e-12,
                "{lost:e} of {passed} mL lost in {:?}", stretch.piece
            );
        }
    }
}
