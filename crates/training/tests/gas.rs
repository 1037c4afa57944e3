//! Carbon dioxide, oxygen and the patient's own breaths in a session.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::sync::Arc;

use tidewright::breath::BreathMeter;
use tidewright::exchange::{GasBreath, Steps};
use tidewright::quantity::PartialPressure;
use tidewright::run::Simulation;
use tidewright_scenario::format::{Act, FreshGasFlow, Mode, TimedAct};
use tidewright_scenario::{Scenario, parse, parse_attempt};
use tidewright_training::command::{parse as typed, pseudonym};
use tidewright_training::{End, Marking, Session, mark, replay, replay_watched, view};

/// A dog with a drive of its own; `pool` and `criteria` as written.
fn lesson(pool: &str, criteria: &str) -> Arc<Scenario> {
    let text = format!(
        r#"Scenario(
            format: 1, id: "lesson", patient: (species: Dog, weight_kg: 10, effort: Drive(depth: 0.9)),
            ventilator: (fresh_gas_flow_l_min: 5, cycling_pressure_cmh2o: 10,
                inspiratory_time_limit_s: 2.5, expiratory_time_s: 5),
            circuit: (compliance_ml_cmh2o: 0.2),
            gas: (adapter_ml: 4, arterial_co2_mmhg: 42, vaporiser: (dial_percent: 2)),
            duration_s: 900,
            training: (
                objectives: [(id: "see", says: "Sees it.", competences: [Monitor])],
                offers: [FreshGasFlow, CyclingPressure, ExpiratoryTime, Mode, Look, ReseatJoint, Disconnect,
                    Reconnect, HandVentilate, SwapCylinder, CallSurgeon, CheckPulse, CheckTemperature,
                    CheckDepth, CheckVaporiser, FillVaporiser, Deepen, Lighten, Warm, Cool, ChangeAdapter],
                questions: [(id: "cause", asks: "What?", answers: ["This", "That"], right: 1)],
                pool: [(id: "one", says: "It.", onset_from_s: 60, onset_to_s: 60, {pool})],
                criteria: [{criteria}],
                debrief: (why: "EtCO2 {{end_tidal_before_mmhg}} to {{end_tidal_after_mmhg}} mmHg.", next: "Again."),
            ),
        )"#
    );
    Arc::new(parse("lesson.ron", &text).unwrap_or_else(|rejected| {
        panic!("{rejected} line {}", rejected.place(&rejected.faults()[0]).line)
    }))
}

const ANY: &str =
    r#"(objective: "see", strand: Outcome, measure: HighestEndTidal(at_most_mmhg: 60))"#;

fn session(pool: &str) -> Session {
    Session::new(lesson(pool, ANY), 1).unwrap()
}

fn seen(session: &mut Session, act: &str) -> String {
    let before = session.seen().len();
    session.act(typed(act).unwrap()).unwrap();
    session.seen()[before..].iter().map(|seen| seen.text.clone()).collect()
}

fn end_tidal(session: &Session) -> f64 {
    session.gas_breaths().last().unwrap().end_tidal_carbon_dioxide.as_mmhg()
}

/// Everything that a session has measured, to the last bit.
fn bits(session: &Session) -> String {
    format!(
        "{:?} {:?} {:?} {:?} {:?}",
        session.rows(),
        session.gas_breaths(),
        session.saturation(),
        session.totals(),
        session.seen()
    )
}

#[test]
fn law_a_live_session_and_its_replay_agree_to_the_last_bit_however_the_clock_is_chopped() {
    let pool = "course: [(is: CircuitLeak(severity: 0.3))], changes: [(set: Temperature(c: 36), onset: Ramp(s: 100)), \
                (after_s: 30, set: Depth(depth: 0.3), onset: Ramp(s: 60))]";
    let scenario = lesson(pool, ANY);
    let acts =
        ["mode standby", "flow 4", "adapter", "mode ventilating", "deepen", "reseat", "fill"];
    let live = |frame_s: f64| {
        let mut session = Session::new(Arc::clone(&scenario), 3).unwrap();
        let mut clock_s = 0.0;
        for (index, act) in acts.iter().enumerate() {
            // Acts come at the same times, whatever the length of a frame.
            let at_s = 45.0 + 30.7 * index as f64;
            while clock_s + frame_s < at_s {
                clock_s += frame_s;
                session.advance(clock_s, &mut |_| {}).unwrap();
            }
            clock_s = at_s;
            session.advance(clock_s, &mut |_| {}).unwrap();
            session.act(typed(act).unwrap()).unwrap();
        }
        session.play(300.0).unwrap();
        session
    };
    let (first, second, third) = (live(0.04), live(0.7331), live(17.0));
    assert!(first.gas_breaths().iter().filter(|breath| breath.own).count() > 3);
    assert_eq!(bits(&first), bits(&second));
    assert_eq!(bits(&first), bits(&third));
    let log = first.attempt(pseudonym("heron").unwrap());
    let log = parse_attempt("log.ron", &log.to_ron()).unwrap();
    assert_eq!(bits(&first), bits(&replay(&scenario, &log).unwrap()));
}

#[test]
fn twin_the_session_as_a_run_with_its_efforts_has_the_same_breaths() {
    let mut session = session("changes: [(set: Depth(depth: 0.3), onset: Ramp(s: 60))]");
    session.play(300.0).unwrap();
    let simulation = Simulation::new(&session.protocol()).unwrap();
    let mut meter = BreathMeter::default();
    let breaths: Vec<_> =
        session.stretches(&simulation).filter_map(|one| meter.take(&one.unwrap())).collect();
    assert_eq!(breaths.len(), session.rows().len());
    let mut efforts = 0;
    for (breath, row) in breaths.iter().zip(session.rows()) {
        let (a, b) = (breath.expired_tidal_volume.as_ml(), row.breath.expired_tidal_volume.as_ml());
        assert!((a - b).abs() < 1e-6, "{a} and {b} mL at {} s", row.end_s);
        efforts +=
            usize::from((a - session.rows()[0].breath.expired_tidal_volume.as_ml()).abs() > 5.0);
    }
    assert!(efforts > 3);
}

#[test]
fn a_session_that_was_saved_goes_on_as_if_it_had_not_been() {
    let mut whole = session("changes: [(set: CardiacOutput(percent: 50), onset: Ramp(s: 30))]");
    whole.play(100.0).unwrap();
    let mut saved = whole.clone();
    // What is done to one does nothing to the other.
    let mut other = whole.clone();
    other.act(Act::FreshGasFlow(FreshGasFlow { l_min: 2.0 })).unwrap();
    other.play(200.0).unwrap();
    whole.play(250.0).unwrap();
    saved.play(123.4).unwrap();
    let mut resumed = saved.clone();
    resumed.play(250.0).unwrap();
    assert_eq!(bits(&whole), bits(&resumed));
    assert_ne!(bits(&whole), bits(&other));
}

#[test]
fn every_hidden_change_shows_and_is_put_right_by_its_act() {
    // Each: the change, the act that mends it, and what tells that it is there.
    type Tell = fn(&mut Session) -> bool;
    let cases: [(&str, &str, Tell); 6] = [
        ("Temperature(c: 35)", "warm", |s| {
            seen(s, "temperature") == "The thermometer shows 35.0 °C."
        }),
        ("CardiacOutput(percent: 45)", "call", |s| seen(s, "pulse").contains("weak")),
        ("FreshGasOxygen(percent: 16)", "cylinder", |s| s.saturation().unwrap() < 0.93),
        ("Depth(depth: 0.3)", "fill", |s| seen(s, "vaporiser").ends_with("is empty.")),
        ("Adapter(ml: 80)", "adapter", |s| end_tidal(s) > 46.0),
        ("SamplingLine(room_air_percent: 60)", "reseat", |s| {
            number(s, "EtCO2") < 0.5 * end_tidal(s) && seen(s, "look").contains("sampling line")
        }),
    ];
    for (set, act, tells) in cases {
        let mut session = session(&format!("changes: [(set: {set})]"));
        let scenario = session.scenario();
        assert_eq!(parse("a.ron", &scenario.to_ron()).unwrap(), *scenario);
        assert_eq!(parse("a.json", &scenario.to_json()).unwrap(), *scenario);
        session.play(50.0).unwrap();
        assert!(!tells(&mut session), "{set} is there too soon");
        session.play(400.0).unwrap();
        assert!(tells(&mut session), "{set}");
        session.act(typed("look").unwrap()).unwrap();
        assert_eq!(session.all_mended_at_s(), None, "{set}");
        session.act(typed(act).unwrap()).unwrap();
        session.play(800.0).unwrap();
        assert!(session.all_mended_at_s().is_some(), "{set}");
        assert!(!tells(&mut session), "{set} is still there");
    }
}

fn number(session: &Session, name: &str) -> f64 {
    let shown = view::numbers(session).unwrap();
    let found = shown.iter().find(|one| one.name == name);
    found.unwrap_or_else(|| panic!("{shown:?}")).value.parse().unwrap()
}

#[test]
fn deepening_ends_own_breaths_and_an_empty_vaporiser_makes_it_useless() {
    let mut light = session("changes: [(set: Depth(depth: 0.1))]");
    light.play(240.0).unwrap();
    assert!(light.own_breaths_per_min().unwrap() > 5.0);
    for _ in 0..5 {
        light.act(Act::Deepen).unwrap();
    }
    let mut filled = light.clone();
    light.play(600.0).unwrap();
    // Near its threshold, some 6 a minute and never quite the same.
    assert!(light.own_breaths_per_min().unwrap() > 3.0);
    assert!(seen(&mut light, "depth").contains("0.10"));
    filled.act(Act::FillVaporiser).unwrap();
    filled.play(600.0).unwrap();
    assert_eq!(filled.own_breaths_per_min(), Some(0.0));
}

#[test]
fn twin_the_gas_of_a_session_and_in_steps_of_milliseconds() {
    let scenario = lesson("changes: [(after_s: 880, set: Adapter(ml: 4))]", ANY);
    let mut session = Session::new(Arc::clone(&scenario), 1).unwrap();
    session.play(300.0).unwrap();
    let breaths = session.gas_breaths();
    assert!(breaths.len() > 40 && breaths.iter().all(|breath| !breath.own));
    let simulation = Simulation::new(&scenario.protocol()).unwrap();
    let mut coupled = scenario.coupled(&simulation).unwrap();
    coupled.follow_in(Steps::new(0.005, 0.02).unwrap());
    let mut fine = Vec::new();
    for together in coupled {
        let together = together.unwrap();
        if together.stretch.piece.start_s > 310.0 {
            break;
        }
        fine.extend(together.gas.unwrap().breaths);
    }
    for (one, other) in breaths.iter().zip(&fine) {
        let off = |value: fn(&GasBreath) -> PartialPressure| {
            (value(one).as_mmhg() - value(other).as_mmhg()).abs()
        };
        assert!(off(|breath| breath.end_tidal_carbon_dioxide) < 0.2, "{one:?} {other:?}");
        assert!(off(|breath| breath.arterial_carbon_dioxide) < 0.2, "{one:?} {other:?}");
        assert!((one.arterial_saturation - other.arterial_saturation).abs() < 1e-3);
    }
}

#[test]
fn a_vaporiser_that_runs_dry_takes_with_it_what_its_dial_was_turned_up_by() {
    let mut dry = session("changes: [(after_s: 100, set: Depth(depth: 0.1))]");
    dry.play(10.0).unwrap();
    dry.act(Act::Deepen).unwrap();
    dry.act(Act::Deepen).unwrap();
    dry.act(Act::Lighten).unwrap();
    assert!(seen(&mut dry, "vaporiser").contains("a step above"));
    dry.play(130.0).unwrap();
    let deeper = dry.gas_numbers().unwrap().depth.unwrap();
    dry.play(400.0).unwrap();
    let depth = dry.gas_numbers().unwrap().depth.unwrap();
    assert!(deeper > 0.5 && (depth - 0.1).abs() < 1e-12, "{deeper} {depth}");
}

#[test]
fn a_session_is_handed_over_before_an_animal_dies() {
    let mut arrest = session("changes: [(set: CardiacOutput(percent: 0))]");
    arrest.play(900.0).unwrap();
    assert_eq!(arrest.ended(), Some(End::HandedOverForCirculation));
    assert!((120.0..121.0).contains(&arrest.now_s()), "{}", arrest.now_s());
    let mut blue = session("changes: [(set: FreshGasOxygen(percent: 2))]");
    blue.play(900.0).unwrap();
    assert_eq!(blue.ended(), Some(End::HandedOverForSaturation));
    assert!(blue.saturation().unwrap() > 0.2, "{:?}", blue.saturation());
    let log = blue.attempt(pseudonym("heron").unwrap());
    let marking = mark(&lesson("changes: [(set: FreshGasOxygen(percent: 2))]", ANY), &log).unwrap();
    assert_eq!(marking.ended, "handed to the surgeon: too little oxygen");
    assert!(!marking.safe && !marking.passed);
    // Own breaths in standby are breaths: nobody is handed over for apnoea.
    let mut own = session("");
    own.act(Act::Mode(Mode::Standby)).unwrap();
    own.play(900.0).unwrap();
    assert_eq!(own.ended(), Some(End::Time));
    assert!(own.longest_apnoea_s() < 90.0, "{}", own.longest_apnoea_s());
}

#[test]
fn law_a_session_is_handed_over_at_the_same_time_however_often_it_is_looked_at() {
    for pool in [
        "changes: [(set: CardiacOutput(percent: 0))]",
        "changes: [(set: FreshGasOxygen(percent: 2))]",
        "course: [(is: LimbBlocked(severity: 1))]",
        "course: [(is: PatientDisconnected)]",
    ] {
        let ended = |frame_s: f64| {
            let mut session = session(pool);
            let mut clock_s = 0.0;
            while session.ended().is_none() {
                clock_s += frame_s;
                session.advance(clock_s, &mut |_| {}).unwrap();
            }
            (session.ended(), session.now_s(), session.totals().clone())
        };
        assert_eq!(ended(0.04), ended(31.7), "{pool}");
        assert_eq!(ended(0.37), ended(31.7), "{pool}");
    }
}

fn marked(pool: &str, measure: &str, acts: &[(f64, &str)]) -> Marking {
    let criterion = format!(r#"(objective: "see", strand: Outcome, measure: {measure})"#);
    let scenario = lesson(pool, &criterion);
    let mut session = Session::new(Arc::clone(&scenario), 1).unwrap();
    for (at_s, act) in acts {
        session.play(*at_s).unwrap();
        // Answers by the numbers of the file.
        session.act_logged(&TimedAct { at_s: *at_s, act: typed(act).unwrap() }).unwrap();
    }
    session.play(600.0).unwrap();
    mark(&scenario, &session.attempt(pseudonym("heron").unwrap())).unwrap()
}

/// Each measure of gas, with acts that pass and acts that fail.
#[test]
fn every_measure_of_gas_can_pass_and_can_fail() {
    let slow = [(10.0, "expiration 30")];
    let standby = [(10.0, "mode standby"), (11.0, "lighten"), (12.0, "lighten"), (13.0, "lighten")];
    let leaky = "changes: [(set: FreshGasOxygen(percent: 14))]";
    let starved = [&standby[..], &[(20.0, "flow 0.8")]].concat();
    type Acts<'a> = &'a [(f64, &'a str)];
    let cases: [(&str, &str, Acts<'_>, Acts<'_>); 7] = [
        ("", "EndTidalOutside(lowest_mmhg: 20, highest_mmhg: 48, at_most_min: 1)", &[], &slow),
        ("", "EndTidalWithin(lowest_mmhg: 20, highest_mmhg: 48, at_least_percent: 90)", &[], &slow),
        ("", "HighestEndTidal(at_most_mmhg: 46)", &[], &slow),
        ("", "FinalEndTidal(at_least_mmhg: 20, at_most_mmhg: 48)", &[], &slow),
        ("", "FinalInspiredCarbonDioxide(at_most_mmhg: 2)", &standby, &starved),
        (leaky, "SaturationBelow(limit_percent: 92, at_most_min: 1)", &[(90.0, "cylinder")], &[]),
        ("", "FinalOwnTidalVolume(at_least_ml_kg: 6, at_most_ml_kg: 20)", &standby, &[]),
    ];
    for (pool, measure, passing, failing) in cases {
        let (good, bad) = (marked(pool, measure, passing), marked(pool, measure, failing));
        assert!(good.criteria[0].met, "{measure}: {:?}", good.criteria[0]);
        assert!(!bad.criteria[0].met, "{measure}: {:?}", bad.criteria[0]);
    }
}

/// A loose line halves what the monitor shows, not what the patient has.
const LOOSE: &str = "changes: [(set: SamplingLine(room_air_percent: 60))]";

#[test]
fn criteria_of_carbon_dioxide_judge_the_patient_behind_a_loose_sampling_line() {
    let mut watched = session(LOOSE);
    watched.play(590.0).unwrap();
    let (shown, own) = (number(&watched, "EtCO2"), end_tidal(&watched));
    assert!(shown < 20.0 && own > 30.0, "{shown} and {own} mmHg");
    for measure in [
        "EndTidalOutside(lowest_mmhg: 20, highest_mmhg: 48, at_most_min: 0)",
        "EndTidalWithin(lowest_mmhg: 20, highest_mmhg: 48, at_least_percent: 100)",
        "FinalEndTidal(at_least_mmhg: 20, at_most_mmhg: 48)",
        "HighestEndTidal(at_most_mmhg: 48)",
    ] {
        let judged = &marked(LOOSE, measure, &[]).criteria[0];
        assert!(judged.met && judged.measure.contains("true EtCO2"), "{judged:?}");
    }
    // The other way round: what is bad stays bad, though the monitor shows a good number.
    let measure = "FinalEndTidal(at_least_mmhg: 20, at_most_mmhg: 36)";
    let judged = &marked(LOOSE, measure, &[(10.0, "expiration 12")]).criteria[0];
    assert!(!judged.met, "{judged:?}");
}

#[test]
fn a_replay_that_is_watched_passes_what_the_monitor_showed_once_and_in_order() {
    let scenario = lesson(LOOSE, ANY);
    let mut live = Session::new(Arc::clone(&scenario), 1).unwrap();
    live.play(50.0).unwrap();
    live.act(Act::CheckPulse).unwrap();
    live.play(200.0).unwrap();
    let log = live.attempt(pseudonym("heron").unwrap());
    let (mut points, mut lasted_s) = (Vec::new(), 0.0);
    let again = replay_watched(&scenario, &log, &mut |passing| {
        points.extend_from_slice(passing.gas);
        lasted_s += passing.stretch.piece.duration_s;
    });
    assert_eq!(bits(&again.unwrap()), bits(&live));
    assert!((lasted_s - 200.0).abs() < 1e-6, "{lasted_s}");
    assert!(points.is_sorted_by(|a, b| a.at_s < b.at_s));
    let highest = |from_s: f64, to_s: f64| {
        let within = points.iter().filter(|point| (from_s..to_s).contains(&point.at_s));
        within.map(|point| point.shown_carbon_dioxide_mmhg).fold(0.0, f64::max)
    };
    let (before, after) = (highest(0.0, 59.0), highest(62.0, 200.0));
    assert!((after / before - 0.4).abs() < 0.03, "{before} to {after} mmHg");
}

#[test]
fn a_prediction_of_carbon_dioxide_is_judged_by_what_the_monitor_showed() {
    let criterion =
        r#"(objective: "see", strand: Outcome, measure: Predicted(at_least_percent: 100))"#;
    let predicted = |pool: &str, goes: &str| {
        let asked = "predictions: [(id: \"co2\", asks: \"EtCO2?\", of: EndTidalCarbonDioxide, from_s: 50, to_s: 90)], pool:";
        let text = lesson(pool, criterion).to_ron().replacen("pool:", asked, 1);
        let scenario = Arc::new(parse("a.ron", &text).unwrap());
        let mut session = Session::new(Arc::clone(&scenario), 1).unwrap();
        session.play(50.0).unwrap();
        session.act(typed(&format!("predict co2 {goes}")).unwrap()).unwrap();
        // Mended after it was read off: what was shown then stays what was shown.
        session.play(100.0).unwrap();
        session.act(Act::ReseatJoint).unwrap();
        session.play(120.0).unwrap();
        let log = session.attempt(pseudonym("heron").unwrap());
        mark(&scenario, &log).unwrap().criteria[0].met
    };
    assert!(predicted(LOOSE, "down") && !predicted(LOOSE, "same"));
    assert!(predicted("", "same") && !predicted("", "down"));
}

#[test]
fn the_right_answer_may_depend_on_the_case() {
    let measure = r#"Answered(question: "cause")"#;
    let other = r#"answers: [(question: "cause", choice: 2)]"#;
    assert!(marked("", measure, &[(90.0, "answer cause 1")]).criteria[0].met);
    assert!(!marked(other, measure, &[(90.0, "answer cause 1")]).criteria[0].met);
    assert!(marked(other, measure, &[(90.0, "answer cause 2")]).criteria[0].met);
}

#[test]
fn each_monitor_level_shows_the_gas_that_it_has() {
    let text = lesson("", ANY).to_ron();
    let names = |level: &str| {
        let text = text.replace("monitor: Full", &format!("monitor: {level}"));
        let mut session = Session::new(Arc::new(parse("a.ron", &text).unwrap()), 1).unwrap();
        session.play(30.0).unwrap();
        assert!(view::has_capnogram(&session));
        let shown = view::numbers(&session).unwrap();
        shown.into_iter().map(|one| one.name).collect::<Vec<_>>()
    };
    let gas =
        ["EtCO2", "inspired CO2", "SpO2", "heart rate", "mean arterial pressure", "own breaths"];
    assert!(names("Full").ends_with(&gas) && names("NoSpirometry").ends_with(&gas));
    assert!(names("Gauge").ends_with(&gas[..2]));
}
