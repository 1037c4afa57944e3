//! Hidden faults are the engine's own, and a monitor shows what instruments show.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::sync::Arc;

use tidewright::fault::Fault;
use tidewright::run::Simulation;
use tidewright_scenario::format::{Act, ActName, Case, CuffPressure};
use tidewright_scenario::{Scenario, parse};
use tidewright_training::debrief::right_act;
use tidewright_training::{Drawn, Session, draw, view};

fn lesson(course: &str, extra: &str) -> Arc<Scenario> {
    let text = format!(
        r#"Scenario(
            format: 1, id: "lesson", patient: (species: Cat, weight_kg: 4,
                lung: (compliance_ml_cmh2o: 4.8, resistance_cmh2o_s_l: 30)),
            ventilator: (fresh_gas_flow_l_min: 2, cycling_pressure_cmh2o: 10,
                inspiratory_time_limit_s: 2.5, expiratory_time_s: 2.5),
            circuit: (relief: (opens_at_cmh2o: 30)), {extra}
            duration_s: 300,
            training: (
                objectives: [(id: "see", says: "Sees it.", competences: [Faults])],
                offers: [Look, Listen, OccludePort, CheckGauge, CheckSupply, MeasureCuff, InflateCuff,
                    Suction, ReseatJoint, WithdrawTube, ChangeTube, ChangeLimb, ChangeVentilator,
                    Disconnect, Reconnect, HandVentilate, SwapCylinder, CallSurgeon, FreshGasFlow],
                pool: [(id: "one", says: "It.", onset_from_s: 20, onset_to_s: 20, course: [{course}])],
                criteria: [(objective: "see", strand: Action, measure: Mended(within_s: 60))],
                debrief: (why: "It was.", next: "Again."),
            ),
        )"#
    );
    Arc::new(
        parse("lesson.ron", &text)
            .unwrap_or_else(|rejected| panic!("{rejected}: {}", rejected.faults()[0])),
    )
}

/// `circuit-leak` as `CircuitLeak`.
fn word(fault: Fault) -> String {
    let part = |part: &str| part[..1].to_uppercase() + &part[1..];
    fault.name().split('-').map(part).collect()
}

fn session(course: &str) -> Session {
    Session::new(lesson(course, ""), 1).unwrap()
}

fn seen(session: &mut Session, act: Act) -> String {
    let before = session.seen().len();
    session.act(act).unwrap();
    session.seen()[before..].iter().map(|seen| seen.text.clone()).collect()
}

fn last_volume_ml(session: &Session) -> f64 {
    session.rows().last().unwrap().breath.expired_tidal_volume.as_ml()
}

#[test]
fn every_fault_of_the_engine_can_be_hidden_found_and_mended() {
    let healthy = {
        let mut session = Session::with_case(lesson("(is: Mucus)", ""), 1, None).unwrap();
        session.play(120.0).unwrap();
        last_volume_ml(&session)
    };
    for &fault in Fault::ALL {
        let mut session = session(&format!("(is: {})", word(fault)));
        session.play(30.0).unwrap();
        assert_eq!(session.fault(), Some((fault, 1.0)));
        let offers = session.training().offers.clone();
        let act = right_act(fault, &offers).unwrap_or_else(|| panic!("nothing mends {fault}"));
        session.act(act).unwrap();
        session.play(150.0).unwrap();
        assert!(session.world().mended_at_s.is_some(), "{fault}");
        let volume = last_volume_ml(&session);
        assert!((volume / healthy - 1.0).abs() < 0.15, "{fault}: {volume} of {healthy} mL");
        // The session as an ordinary run, as figures draw it.
        let breaths = Simulation::new(&session.protocol()).unwrap().breaths().unwrap().0;
        assert_eq!(breaths.len(), session.rows().len(), "{fault}");
    }
}

#[test]
fn a_wrong_act_mends_nothing() {
    for &fault in Fault::ALL {
        let mut session = session(&format!("(is: {})", word(fault)));
        session.play(30.0).unwrap();
        session.act(Act::Look).unwrap();
        session.act(Act::Listen).unwrap();
        assert_eq!(session.world().mended_at_s, None, "{fault}");
    }
}

#[test]
fn a_later_stage_replaces_the_one_before_and_a_ramp_grows() {
    let mut session = session(
        "(is: CircuitLeak(severity: 0.2)), (after_s: 40, is: CircuitLeak(severity: 0.6), onset: Ramp(s: 20))",
    );
    let at = |session: &mut Session, s: f64| {
        session.play(s).unwrap();
        session.fault().map_or(0.0, |(_, severity)| severity)
    };
    assert_eq!(at(&mut session, 10.0), 0.0);
    assert_eq!(at(&mut session, 30.0), 0.2);
    let half = at(&mut session, 70.25);
    assert!((half - 0.6 * 10.5 / 20.0).abs() < 1e-12, "{half}");
    assert_eq!(at(&mut session, 90.0), 0.6);
}

#[test]
fn the_machine_at_the_start_does_not_tell_which_case_was_drawn() {
    let scenario = lesson("(is: OneLungIntubation)", "");
    let training = scenario.training.as_ref().unwrap();
    let drawn = draw(training, 1).unwrap();
    let other = Drawn { case: Case { course: vec![], ..drawn.case.clone() }, ..drawn.clone() };
    let setups = [Some(drawn), Some(other), None].map(|case| {
        Session::with_case(Arc::clone(&scenario), 1, case).unwrap().machine().setup().clone()
    });
    assert_eq!(setups[0], setups[1]);
    assert_eq!(setups[0], setups[2]);
}

#[test]
fn a_cuff_leaks_above_what_hands_have_put_into_it() {
    let mut session = session("(is: CuffLeak(severity: 0.8))");
    assert_eq!(seen(&mut session, Act::MeasureCuff), "By its gauge the cuff holds 25 cmH2O.");
    session.play(60.0).unwrap();
    assert_eq!(seen(&mut session, Act::MeasureCuff), "By its gauge the cuff holds 5 cmH2O.");
    let peak = |session: &Session| session.rows().last().unwrap().breath.peak_pressure.as_cmh2o();
    assert!(peak(&session) < 7.5, "{}", peak(&session));
    session.act(Act::InflateCuff(CuffPressure { cmh2o: 8.0 })).unwrap();
    session.play(90.0).unwrap();
    assert_eq!(session.world().mended_at_s, None);
    assert!(peak(&session) > 8.0 && peak(&session) < 10.0, "{}", peak(&session));
    session.act(Act::InflateCuff(CuffPressure { cmh2o: 22.0 })).unwrap();
    session.play(120.0).unwrap();
    assert!(session.world().mended_at_s.is_some());
    assert!((peak(&session) - 10.0).abs() < 1e-9);
}

#[test]
fn a_bag_goes_past_the_circuit_and_not_past_the_patient() {
    let bagged = |course: &str| {
        let mut session = session(course);
        session.play(30.0).unwrap();
        session.act(Act::HandVentilate).unwrap();
        session.play(60.0).unwrap();
        last_volume_ml(&session)
    };
    assert!(bagged("(is: FreshGasFailing)") > 30.0);
    assert!(bagged("(is: ValveStuckShut)") > 30.0);
    assert!(bagged("(is: KinkedTube)") < 1.0);
}

#[test]
fn the_flowmeter_tells_the_supply_and_nothing_else() {
    let supply = |course: &str| {
        let mut session = session(course);
        session.play(30.0).unwrap();
        session.act(Act::HandVentilate).unwrap();
        seen(&mut session, Act::CheckSupply)
    };
    assert!(supply("(is: FreshGasFailing(severity: 0.5))").ends_with("float stands at 1 L/min."));
    // Hose and flush lie behind it, and a bag is beside it.
    assert!(supply("(is: FreshGasHoseOff)").ends_with("float stands at 2 L/min."));
    assert!(supply("(is: OxygenFlush)").ends_with("float stands at 2 L/min."));
}

#[test]
fn what_the_surgeon_does_on_purpose_is_not_mended_by_a_call() {
    let mut session =
        session("(is: CompressedAbdomen), (after_s: 120, is: CompressedAbdomen(severity: 0))");
    session.play(30.0).unwrap();
    session.act(Act::CallSurgeon).unwrap();
    session.play(100.0).unwrap();
    assert!(session.fault().is_some() && session.world().mended_at_s.is_none());
    session.play(200.0).unwrap();
    assert_eq!(session.fault(), None);
}

#[test]
fn closed_form_what_a_cylinder_holds_is_flow_times_the_time_that_is_left() {
    let mut session = session("(is: CylinderEmptying, onset: Ramp(s: 40))");
    session.play(8.0).unwrap();
    let supply = |session: &mut Session| seen(session, Act::CheckSupply);
    // 2 L/min for the 12 s until the onset.
    assert!(supply(&mut session).ends_with("By its gauge the cylinder holds 0.4 L."));
    // It can be forestalled, unlike what nothing foretells.
    session.act(Act::SwapCylinder).unwrap();
    assert!(supply(&mut session).ends_with("By its gauge the cylinder is full."));
    session.play(100.0).unwrap();
    assert_eq!(session.fault(), None);
    let mut sudden = self::session("(is: FreshGasFailing(severity: 0.5))");
    sudden.act(Act::SwapCylinder).unwrap();
    sudden.play(100.0).unwrap();
    assert!(sudden.fault().is_some());
    assert!(!seen(&mut sudden, Act::CheckSupply).contains("cylinder"));
}

fn number(session: &Session, name: &str) -> f64 {
    let shown = view::numbers(session).unwrap();
    shown.iter().find(|one| one.name == name).unwrap().value.parse().unwrap()
}

#[test]
fn the_monitor_shows_what_the_instruments_show() {
    let with = |instruments: &str| {
        let mut session = Session::new(lesson("(is: Mucus(severity: 0))", instruments), 1).unwrap();
        let mut readings = 0;
        session.advance(60.0, &mut |passing| readings += passing.readings.len()).unwrap();
        (session, readings)
    };
    let (truth, none) = with("");
    let (ideal, _) = with("instruments: (readings_per_s: 1000),");
    let (off, readings) = with(
        "instruments: (readings_per_s: 50, gauge: (offset_cmh2o: 3), spirometer: (at: Machine)),",
    );
    assert_eq!((none, readings), (0, 3000 + 1));
    for name in ["gauge now", "peak", "baseline"] {
        let (shown, true_one) = (number(&off, name), number(&truth, name));
        assert!((shown - true_one - 3.0).abs() < 0.35, "{name}: {shown} for {true_one}");
    }
    for name in ["peak", "baseline", "tidal volume in", "tidal volume out"] {
        let (shown, true_one) = (number(&ideal, name), number(&truth, name));
        assert!((shown / true_one - 1.0).abs() < 0.02, "{name}: {shown} for {true_one}");
    }
    // At the machine the gas that the tubing takes up counts as the patient's.
    assert!(number(&off, "tidal volume in") > number(&truth, "tidal volume in") + 0.5);
    assert!(!truth.training().offers.contains(&ActName::Mode));
}
