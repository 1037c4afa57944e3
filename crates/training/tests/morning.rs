//! Parts on a table, checks in a room, a tube that is drawn: what hands do there, and what
//! is refused.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::sync::Arc;

use tidewright_scenario::parse;
use tidewright_training::desk::{Reply, heed};
use tidewright_training::{On, Session};

fn session(name: &str, seed: u32) -> Session {
    let lesson = tidewright_shelf::lesson(name).unwrap();
    Session::new(Arc::new(parse(lesson.id, lesson.text).unwrap()), seed).unwrap()
}

fn says(session: &mut Session, line: &str) -> String {
    let reply = heed(session, line);
    if let Reply::Done { .. } = reply {
        session.play(session.now_s() + 25.0).unwrap();
    }
    let seen = session.seen().last().map(|seen| seen.text.clone());
    match reply {
        Reply::Done { says } if says.starts_with("Your hands") => seen.unwrap(),
        reply => reply.says().unwrap().to_owned(),
    }
}

#[test]
fn the_patient_is_no_part_and_goes_on_by_reconnect_alone() {
    let mut at = session("where", 2);
    assert_eq!(at.world().on, On::Nothing);
    let told = says(&mut at, "join patient.tube connector.near");
    assert_eq!(
        told,
        "the patient's tube is put on with `reconnect` and taken off with `disconnect`"
    );
    assert!(at.acts().is_empty());
    // A plug where she belongs: there is no port for her.
    says(&mut at, "join plug.end connector.near");
    assert!(says(&mut at, "reconnect").starts_with("the circuit has no open port"));
    says(&mut at, "part plug.end");
    says(&mut at, "reconnect");
    assert_eq!(at.world().on, On::Ventilator);
    assert!(says(&mut at, "part connector.near").starts_with("the patient's tube"));
    assert!(says(&mut at, "trace").contains("to the patient and back"));
    says(&mut at, "disconnect");
    assert!(says(&mut at, "trace").contains("nobody is on it"));
}

/// 2.4 L/min for 20 s into half a litre: 300 mL beyond what it holds, at 20 mL for each
/// cmH2O (closed form).
#[test]
fn closed_form_a_shut_way_out_shows_when_the_bag_would_be_full() {
    let told = |seed| says(&mut session("where", seed), "occlude");
    let rose = |told: &str| {
        let after = told.split("rose to ").nth(1).unwrap();
        after.split(' ').next().unwrap().trim_end_matches('.').parse::<f64>().unwrap()
    };
    assert!(rose(&told(2)) < 1.0, "{}", told(2));
    for shut in [3, 17, 1] {
        let expected = 0.5 + (2400.0 / 60.0 * 20.0 - 500.0) / 20.0;
        assert!((rose(&told(shut)) - expected).abs() < 0.5, "{}", told(shut));
    }
}

#[test]
fn a_port_that_is_not_there_names_those_that_are_and_parts_are_listed() {
    let mut at = session("parts", 2);
    let told = says(&mut at, "join limb.end t-piece.limb");
    assert!(told.contains("limb.near") && told.contains("limb.far"), "{told}");
    assert!(says(&mut at, "parts").contains("long-connector, an adapter of 8 mL"));
    assert!(says(&mut at, "trace").starts_with("Nothing is joined yet."));
    says(&mut at, "join limb.far ventilator.patient-side");
    assert!(says(&mut at, "trace").contains("There is no path yet"));
}

#[test]
fn a_check_tells_what_is_amiss_until_it_is_put_right() {
    // Seed 5 draws the mute alarm.
    let mut at = session("the-whole", 5);
    assert!(says(&mut at, "check oxygen-failure").contains("nothing sounds"));
    assert!(says(&mut at, "mend suction").starts_with("There is nothing to put right"));
    assert!(says(&mut at, "mend oxygen-failure").contains("battery"));
    assert!(says(&mut at, "check oxygen-failure").contains("the alarm sounds"));
    let told = says(&mut at, "check sucktion");
    assert!(told.contains("`suction`"), "{told}");
    assert!(at.all_mended_at_s().is_some());
}

/// Boyle's law (closed form): 10 L fall by what 4 L/min took in two minutes, 8 L or 0.81
/// bar.
#[test]
fn closed_form_a_cylinder_falls_by_what_the_flowmeter_let_through() {
    let mut at = session("teasel", 2);
    at.play(120.0).unwrap();
    let told = says(&mut at, "supply");
    assert!(told.contains("its gauge shows 94.2 bar"), "{told}");
}

#[test]
fn a_tube_that_is_out_takes_no_circuit_and_no_bag() {
    let mut at = session("teasel", 2);
    says(&mut at, "extubate");
    for line in ["reconnect", "bag", "extubate"] {
        assert_eq!(says(&mut at, line), "the tube is out");
    }
    assert!(says(&mut at, "look").contains("The tube is out"));
    says(&mut at, "tube");
    says(&mut at, "reconnect");
    assert_eq!(at.world().on, On::Ventilator);
}

/// Between the cycles of a ventilator that is tested beside it a patient breathes on: what
/// a cycle happened to count of its breath is no time without one.
#[test]
fn law_who_breathes_by_itself_beside_a_cycling_ventilator_has_no_pause() {
    let lesson = tidewright_shelf::lesson("wren").unwrap();
    let text = lesson.text.replacen("mode: Standby", "mode: Ventilating", 1);
    assert_ne!(text, lesson.text);
    let mut at = Session::new(Arc::new(parse(lesson.id, &text).unwrap()), 2).unwrap();
    assert_eq!(at.world().on, On::Nothing);
    at.play(400.0).unwrap();
    assert!(at.own_breaths_per_min().unwrap() > 10.0);
    assert!(at.longest_apnoea_s() < 12.0, "{} s", at.longest_apnoea_s());
}
