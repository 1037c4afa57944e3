//! Rules of marking and of sessions, each against what the format says of it.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::sync::Arc;

use tidewright_scenario::{Attempt, Scenario, parse};
use tidewright_training::class::{Handed, mark_all};
use tidewright_training::{End, Session, command, mark, mark_with};

/// A rabbit, with gas or a pool where they are given, and what is marked.
fn lesson(gas: &str, pool: &str, criteria: &str) -> Arc<Scenario> {
    let text = format!(
        "Scenario(
            format: 1, id: \"rules\", title: \"Rules\", story: \"A rabbit.\", {gas}
            patient: (name: \"Teasel\", species: Rabbit, weight_kg: 2.4),
            circuit: (compliance_ml_cmh2o: 0.1, valve_resistance_cmh2o_s_l: 5),
            ventilator: (fresh_gas_flow_l_min: 1.3, cycling_pressure_cmh2o: 9,
                inspiratory_time_limit_s: 2.5, expiratory_time_s: 2),
            duration_s: 300,
            training: (
                objectives: [(id: \"why\", says: \"Finds out.\", competences: [Monitor])],
                offers: [FreshGasFlow, CyclingPressure, InspiratoryTimeLimit, Look, Listen,
                    Disconnect, HandVentilate, CallSurgeon],
                {pool}
                criteria: [{criteria}],
                suggested_pass_percent: 90,
                debrief: (why: \"It was so.\", next: \"Go on.\"),
            ),
        )"
    );
    Arc::new(parse("rules.ron", &text).unwrap_or_else(|rejected| {
        let fault = &rejected.faults()[0];
        panic!("line {}: {fault}", rejected.place(fault).line)
    }))
}

fn criterion(measure: &str) -> String {
    format!("(objective: \"why\", strand: Action, points: 6, measure: {measure})")
}

/// Acts as typed, each at its time, then on to the end.
fn played(lesson: &Arc<Scenario>, acts: &[(f64, &str)]) -> Session {
    let mut session = Session::new(Arc::clone(lesson), 1).unwrap();
    for &(at_s, words) in acts {
        session.play(at_s).unwrap();
        session.act(command::parse(words).unwrap()).unwrap();
    }
    session.play(lesson.duration_s).unwrap();
    session
}

fn attempt(lesson: &Arc<Scenario>, acts: &[(f64, &str)]) -> Attempt {
    played(lesson, acts).attempt(command::pseudonym("heron-1").unwrap())
}

/// What was found of the one criterion, in its unit.
fn found(lesson: &Arc<Scenario>, acts: &[(f64, &str)]) -> f64 {
    let marking = mark(lesson, &attempt(lesson, acts)).unwrap();
    let found = &marking.criteria[0].found;
    found.split(' ').next().unwrap().parse().unwrap_or_else(|_| panic!("{found}"))
}

/// Acts shortly before the end, so that of the last five breaths only some are changed.
const LATE: &[(f64, &str)] = &[(288.0, "pressure 12")];

#[test]
fn closed_form_the_last_breaths_are_five() {
    let measure = "FinalTidalVolume(at_least_ml_kg: 0, at_most_ml_kg: 100)";
    let lesson = lesson("", "", &criterion(measure));
    let session = played(&lesson, LATE);
    let rows = session.rows();
    let volume = |back: usize| rows[rows.len() - back].breath.expired_tidal_volume.as_ml() / 2.4;
    assert!(volume(1) > 1.2 * volume(5), "the change lies within the last five");
    let mean = (1..=5).map(volume).sum::<f64>() / 5.0;
    assert!((found(&lesson, LATE) / mean - 1.0).abs() < 5e-3);
}

#[test]
fn closed_form_the_last_breaths_of_gas_are_five() {
    let measure = "FinalEndTidal(at_least_mmhg: 0, at_most_mmhg: 200)";
    let lesson = lesson("gas: (),", "", &criterion(measure));
    let late = [(280.0, "pressure 5")];
    let session = played(&lesson, &late);
    let breaths = session.gas_breaths();
    let shown = |back: usize| breaths[breaths.len() - back].end_tidal_carbon_dioxide.as_mmhg();
    let mean = |of: usize| (1..=of).map(shown).sum::<f64>() / of as f64;
    assert!((mean(4) - mean(5)).abs() > 0.05 && (mean(6) - mean(5)).abs() > 0.05);
    let found = found(&lesson, &late);
    let nearest =
        (3..=7).min_by(|&a, &b| (mean(a) - found).abs().total_cmp(&(mean(b) - found).abs()));
    assert_eq!(nearest, Some(5), "{found}");
}

/// `Same` is within a tenth: 5 % more pressure gives 5 % more volume, 14 % gives more
/// than a tenth and less than a fifth.
#[test]
fn closed_form_a_prediction_of_the_same_is_within_a_tenth() {
    let asked = "predictions: [(id: \"volume\", asks: \"And the volume?\", of: TidalVolume, \
                 from_s: 30, to_s: 280)],";
    let lesson = lesson("", asked, &criterion("Predicted(at_least_percent: 100)"));
    for (pressure, goes) in [("9.45", "same"), ("10.26", "up"), ("8.55", "same"), ("7.74", "down")]
    {
        let wanted = format!("predict volume {goes}");
        let turned = format!("pressure {pressure}");
        let marking =
            mark(&lesson, &attempt(&lesson, &[(30.0, &wanted), (60.0, &turned)])).unwrap();
        assert!(marking.criteria[0].met, "{pressure} and {goes}: {}", marking.criteria[0].found);
    }
}

/// Who gets exactly what is asked for passes.
#[test]
fn law_the_pass_mark_itself_passes() {
    let lesson = lesson("", "", &criterion("Acted(any_of: [Look], within_s: 100)"));
    let log = attempt(&lesson, &[(20.0, "look")]);
    let marking = mark_with(&lesson, &log, Some(100.0)).unwrap();
    assert_eq!(marking.points, marking.points_of);
    assert!(marking.passed);
}

/// Three minutes without a breath (common practice, no source).
#[test]
fn practice_a_patient_that_nobody_breathes_for_is_handed_over_after_three_minutes() {
    let lesson = lesson("", "", &criterion("CyclingPressureNotRaised"));
    let session = played(&lesson, &[(30.0, "disconnect")]);
    assert_eq!(session.ended(), Some(End::HandedOverForApnoea));
    // A breath has 2 mL/kg.
    let breaths =
        session.rows().iter().filter(|row| row.breath.expired_tidal_volume.as_ml() >= 2.0 * 2.4);
    let last_s = breaths.map(|row| row.end_s).fold(0.0, f64::max);
    assert!((session.now_s() - last_s - 180.0).abs() < 1e-6, "{} {last_s}", session.now_s());
}

/// A hand squeezes the bag to 10 to 15 cmH2O, whatever the lung (from memory: a wide band).
#[test]
fn practice_a_hand_squeezes_the_bag_to_a_usual_pressure() {
    let stiff = "lung: (compliance_ml_cmh2o: 0.8, resistance_cmh2o_s_l: 30)";
    let lesson = lesson("", "", &criterion("CyclingPressureNotRaised"));
    let text = lesson.to_ron().replacen("weight_kg: 2.4", &format!("weight_kg: 2.4, {stiff}"), 1);
    let lesson = Arc::new(
        parse("stiff.ron", &text)
            .unwrap_or_else(|rejected| panic!("{} in {text}", rejected.faults()[0])),
    );
    let by_hand = played(&lesson, &[(30.0, "bag")]).totals().highest_airway_cmh2o;
    assert!((10.0..=15.0).contains(&by_hand), "{by_hand}");
}

/// Air that a wound let into the chest must go out again: the surgeon puts in a drain, and
/// the lung stands against it from then on. Nothing else leaves one.
#[test]
fn law_air_in_the_chest_leaves_by_a_drain() {
    for (fault, drained) in [
        ("OpenPneumothorax(severity: 0.4)", true),
        ("TensionPneumothorax(severity: 0.2)", true),
        ("CircuitLeak(severity: 0.3)", false),
    ] {
        let pool = format!(
            "pool: [(id: \"it\", says: \"It.\", onset_from_s: 30, onset_to_s: 30, \
             course: [(is: {fault})])],"
        );
        let lesson = lesson("", &pool, &criterion("CyclingPressureNotRaised"));
        let session = played(&lesson, &[(60.0, "call")]);
        assert_eq!(session.world().drained, drained, "{fault}");
        let wall = session.machine().setup().lung.chest_wall.as_ref();
        let open = wall.is_some_and(|wall| wall.open_wound.is_some());
        assert_eq!(open, drained, "{fault}");
    }
}

/// A copy of two is told on both rows; who never began has a row that says so.
#[test]
fn law_every_file_has_a_row_and_two_like_logs_name_each_other() {
    let lesson = lesson("", "", &criterion("Acted(any_of: [Look], within_s: 100)"));
    let one = attempt(&lesson, &[(20.0, "look"), (31.5, "listen")]);
    let other = attempt(&lesson, &[(21.0, "look"), (31.5, "listen")]);
    let never = Attempt { acts: vec![], ended_at_s: 0.0, ..one.clone() };
    let files: Vec<Handed> =
        [("a.ron", &one), ("b.ron", &one), ("c.ron", &other), ("d.ron", &never)]
            .map(|(file, log)| Handed { file: file.to_owned(), text: Ok(log.to_ron()) })
            .into();
    let rows = mark_all(&lesson, &files, None, None, |_| {});
    let told: Vec<(&str, &str)> =
        rows.iter().map(|row| (row.file.as_str(), row.same_log_as.as_str())).collect();
    assert_eq!(told, [("a.ron", "b.ron"), ("b.ron", "a.ron"), ("c.ron", ""), ("d.ron", "")]);
    assert_eq!((rows[0].result, rows[3].result), ("passed", "not marked"));
    assert!(rows[3].reasons.contains("never begun"), "{}", rows[3].reasons);
}
