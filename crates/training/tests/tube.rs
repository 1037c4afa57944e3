//! A tube that is moved and a patient that is turned: what comes of the right order, and
//! what of the wrong one.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::sync::Arc;

use tidewright_scenario::{Scenario, parse};
use tidewright_training::command::{parse as typed, pseudonym};
use tidewright_training::debrief::{Debrief, debrief};
use tidewright_training::{Dragged, SURGEON_TAKES_S, Session};

/// A cat whose tube goes into one bronchus at 20 s; `more` is offered besides.
fn lesson(more: &str) -> Arc<Scenario> {
    let text = format!(
        r#"Scenario(
            format: 1, id: "lesson", patient: (species: Cat, weight_kg: 4,
                lung: (compliance_ml_cmh2o: 4.8, resistance_cmh2o_s_l: 30)),
            ventilator: (fresh_gas_flow_l_min: 2, cycling_pressure_cmh2o: 10,
                inspiratory_time_limit_s: 2.5, expiratory_time_s: 2.5),
            duration_s: 300,
            training: (
                objectives: [(id: "see", says: "Sees it.", competences: [Airway])],
                offers: [Look, Listen, Disconnect, Reconnect, HandVentilate, WithdrawTube, ChangeTube,
                    TurnPatient, MeasureCuff, InflateCuff, CallSurgeon{more}],
                pool: [(id: "one", says: "It.", onset_from_s: 20, onset_to_s: 20,
                    course: [(is: OneLungIntubation)])],
                criteria: [(objective: "see", strand: Action, measure: Mended(within_s: 250))],
                debrief: (why: "It was.", next: "Again."),
            ),
        )"#
    );
    Arc::new(parse("lesson.ron", &text).unwrap_or_else(|rejected| panic!("{rejected}")))
}

/// The session after these acts, each typed at its time.
fn played(more: &str, acts: &[(f64, &str)], until_s: f64) -> Session {
    let mut session = Session::new(lesson(more), 1).unwrap();
    for (at_s, act) in acts {
        session.play(*at_s).unwrap();
        session.act(typed(act).unwrap()).unwrap();
    }
    session.play(until_s).unwrap();
    session
}

fn told(session: &Session) -> Debrief {
    let attempt = session.attempt(pseudonym("heron").unwrap());
    debrief(&Arc::new(session.scenario().clone()), &attempt, None).unwrap()
}

fn volume_ml(session: &Session) -> f64 {
    session.rows().last().unwrap().breath.expired_tidal_volume.as_ml()
}

fn seen(session: &Session) -> String {
    session.seen().iter().map(|seen| seen.text.as_str()).collect::<Vec<_>>().join("\n")
}

const IN_HAND: &str = ", DeflateCuff";
const WITH_CARE: [(f64, &str); 6] = [
    (40.0, "disconnect"),
    (42.0, "deflate"),
    (44.0, "withdraw"),
    (46.0, "cuff 25"),
    (48.0, "reconnect"),
    (60.0, "listen"),
];

#[test]
fn practice_a_tube_drawn_back_in_order_is_put_right_and_strains_nothing() {
    let session = played(IN_HAND, &WITH_CARE, 100.0);
    let healthy = played(IN_HAND, &[], 19.0);
    assert!((volume_ml(&session) / volume_ml(&healthy) - 1.0).abs() < 0.05);
    let debrief = told(&session);
    assert_eq!(debrief.tube, Vec::<String>::new());
    assert!(debrief.marking.safe && debrief.marking.needless.is_empty(), "{}", debrief.to_text());
    assert!(seen(&session).contains("Breath sounds on both sides"));
}

#[test]
fn practice_a_filled_cuff_that_is_drawn_along_is_harm_and_is_told() {
    let session = played(IN_HAND, &[(44.0, "withdraw")], 100.0);
    assert!(seen(&session).contains("its cuff still holds 25 cmH2O"));
    let debrief = told(&session);
    assert!(!debrief.marking.safe, "{}", debrief.to_text());
    let text = debrief.to_text();
    for told in ["can tear the trachea", "nobody listened again", "nobody read the cuff's gauge"] {
        assert!(text.contains(told), "{told}: {text}");
    }
    assert!(text.contains("NOT MET safety"), "{text}");
}

#[test]
fn practice_where_the_cuff_is_not_offered_drawing_back_is_the_whole_of_it() {
    let session = played("", &[(44.0, "withdraw"), (60.0, "listen")], 100.0);
    let debrief = told(&session);
    assert!(debrief.marking.safe && debrief.tube.is_empty(), "{}", debrief.to_text());
    assert!(seen(&session).contains("the cuff is let down, the tube drawn back"));
}

#[test]
fn a_cuff_that_is_let_down_leaks_until_it_is_filled() {
    let leaked = |acts: &[(f64, &str)]| {
        let session = played(IN_HAND, acts, 19.0);
        session.rows().last().unwrap().breath.leaked.as_ml()
    };
    assert_eq!(leaked(&[]), 0.0);
    assert!(leaked(&[(5.0, "deflate")]) > 10.0);
    let weak = leaked(&[(5.0, "cuff 8")]);
    assert!(weak > 0.0 && weak < leaked(&[(5.0, "deflate")]), "{weak}");
    assert_eq!(leaked(&[(5.0, "deflate"), (10.0, "cuff 25")]), 0.0);
}

#[test]
fn practice_a_patient_turned_on_the_circuit_kinks_its_tube() {
    let healthy = volume_ml(&played(IN_HAND, &[], 19.0));
    let session = played(IN_HAND, &[(5.0, "turn"), (18.0, "look")], 19.0);
    assert_eq!(session.world().tube.dragged, Some(Dragged::Kinked));
    assert!(volume_ml(&session) < 0.8 * healthy, "{} of {healthy}", volume_ml(&session));
    assert!(seen(&session).contains("bent at the mouth"));
    let text = told(&session).to_text();
    assert!(text.contains("turned with its tube on the circuit"), "{text}");
    let mended = played(IN_HAND, &[(5.0, "turn"), (8.0, "deflate"), (9.0, "withdraw")], 12.0);
    assert_eq!(mended.world().tube.dragged, None);
}

#[test]
fn practice_a_patient_turned_with_its_cuff_down_loses_its_tube() {
    let acts = [(4.0, "deflate"), (5.0, "turn"), (16.0, "look"), (17.0, "listen")];
    let session = played(IN_HAND, &acts, 19.0);
    assert_eq!(session.world().tube.dragged, Some(Dragged::Out));
    assert!(volume_ml(&session) < 1.0);
    let text = seen(&session);
    assert!(text.contains("slipped out of the mouth") && text.contains("No breath sounds"));
    // A bag reaches it no more than the ventilator did.
    let bagged = played(IN_HAND, &[(4.0, "deflate"), (5.0, "turn"), (6.0, "bag")], 19.0);
    assert!(volume_ml(&bagged) < 1.0);
    // Another tube does, and the surgeon knows.
    let again = played(IN_HAND, &[(4.0, "deflate"), (5.0, "turn"), (6.0, "tube")], 60.0);
    assert!(again.world().tube.dragged.is_none() && volume_ml(&again) > 15.0);
    let called = played(IN_HAND, &[(5.0, "turn"), (6.0, "call")], 6.0 + SURGEON_TAKES_S);
    assert_eq!(called.world().tube.dragged, None);
}

#[test]
fn practice_a_patient_turned_off_the_circuit_keeps_its_tube() {
    let acts =
        [(3.0, "disconnect"), (5.0, "turn"), (8.0, "reconnect"), (12.0, "listen"), (14.0, "cuff?")];
    let session = played(IN_HAND, &acts, 19.0);
    let debrief = told(&session);
    assert!(session.world().tube.dragged.is_none() && debrief.tube.is_empty());
    assert!(debrief.marking.safe && debrief.marking.needless.is_empty(), "{}", debrief.to_text());
}

#[test]
fn practice_a_cuff_is_filled_by_gauge_and_no_further() {
    let mut acts = WITH_CARE.to_vec();
    acts[3].1 = "cuff 60";
    let text = told(&played(IN_HAND, &acts, 100.0)).to_text();
    assert!(text.contains("filled to 60 cmH2O. 20 to 30 by gauge seal"), "{text}");
}

#[test]
fn the_screen_says_who_gives_the_breaths() {
    let status =
        |acts: &[(f64, &str)]| tidewright_training::desk::status(&played(IN_HAND, acts, 19.0));
    assert!(status(&[(5.0, "bag")]).contains("bag squeezed, by hand"));
    assert!(status(&[(5.0, "disconnect")]).contains("patient off the circuit"));
    let back = status(&[(5.0, "bag"), (9.0, "reconnect")]);
    assert!(!back.contains("by hand") && !back.contains("off the circuit"), "{back}");
}
