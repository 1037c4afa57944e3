//! A debrief tells nothing of what never happened, and compares only what compares.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::sync::Arc;

use common::{lesson, lessons, tries};
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Act, Attempt};
use tidewright_training::command::{parse as typed, pseudonym};
use tidewright_training::debrief::{Course, Debrief, debrief};
use tidewright_training::{Drawn, Session, draw, page};

const SEED: u32 = 1;

fn named(id: &str) -> Arc<Scenario> {
    let path = lessons().into_iter().find(|path| path.file_stem().unwrap() == id).unwrap();
    lesson(&path)
}

fn drawn(scenario: &Scenario) -> Option<Drawn> {
    draw(scenario.training.as_ref().unwrap(), SEED)
}

/// Nothing is done, and it is over at `end_s`.
fn idle(scenario: &Arc<Scenario>, end_s: f64) -> Attempt {
    let mut session = Session::new(Arc::clone(scenario), SEED).unwrap();
    session.play(end_s).unwrap();
    session.attempt(pseudonym("heron").unwrap())
}

fn told(scenario: &Arc<Scenario>, end_s: f64) -> Debrief {
    debrief(scenario, &idle(scenario, end_s), None).unwrap()
}

#[test]
fn who_ends_before_the_onset_is_not_told_what_was_to_come() {
    let mut judged = 0;
    for path in lessons() {
        let scenario = lesson(&path);
        let Some(drawn) = drawn(&scenario).filter(|drawn| drawn.onset_s > 10.0) else { continue };
        let training = scenario.training.as_ref().unwrap();
        let why = drawn.case.why.as_ref().unwrap_or(&training.debrief.why);
        let begun = why.split('{').next().unwrap();
        let early = told(&scenario, 10.0);
        let sentences = early.why.matches(['.', '!', '?']).count();
        assert!(early.why.starts_with("Nothing had gone wrong yet;") && sentences == 1);
        let answers = training.questions.iter().map(|asked| {
            let own = drawn.case.answers.iter().find(|answer| answer.question == asked.id);
            let right = own.map_or(asked.right, |answer| answer.choice);
            asked.answers[right as usize - 1].as_str()
        });
        let secrets: Vec<&str> = answers.chain([drawn.case.says.as_str(), begun]).collect();
        for text in [early.to_text(), page(&early, "")] {
            for secret in secrets.iter().filter(|secret| !secret.is_empty()) {
                assert!(!text.contains(secret), "{} tells `{secret}`: {text}", scenario.id);
            }
        }
        assert!(early.counterfactuals.len() == 1 && early.left_out.is_none());
        // The same lesson tells it once it has begun.
        let late = told(&scenario, drawn.onset_s + 1.0);
        assert!(late.why.starts_with(begun), "{}", late.why);
        judged += 1;
    }
    assert!(judged >= 10, "{judged} lessons");
}

fn same(course: &Course, session: &Session) {
    let weight_kg = session.scenario().patient.weight_kg;
    let row = session.rows().last().unwrap();
    let volume = (row.breath.expired_tidal_volume.as_ml() / weight_kg).max(0.0);
    let pairs = [
        (course.highest_alveolar_pressure_cmh2o, session.totals().highest_alveolar_cmh2o),
        (course.longest_apnoea_s, session.longest_apnoea_s()),
        (course.last_tidal_volume_ml_kg.unwrap(), volume),
    ];
    for (told, played) in pairs {
        assert!((told - played).abs() < 1e-9, "{}: {told} and {played}", course.name);
    }
}

/// Each course is played once more by hand, to the end of the attempt and no further.
#[test]
fn twin_every_course_ends_with_the_attempt() {
    for (id, act) in [("juno-the-loose-joint", "reseat"), ("otter-the-cuff", "cuff 25")] {
        let scenario = named(id);
        let sign_s = told(&scenario, 1e9).marking.sign_s.unwrap();
        // Half a second on, the last breath is still the one before the act.
        for end_s in [sign_s + 30.5, sign_s + 60.0, scenario.duration_s] {
            let debrief = told(&scenario, end_s);
            assert_eq!(debrief.left_out, None);
            let mut healthy = Session::with_case(Arc::clone(&scenario), SEED, None).unwrap();
            healthy.play(end_s).unwrap();
            let mut righted = Session::new(Arc::clone(&scenario), SEED).unwrap();
            righted.play(sign_s + 30.0).unwrap();
            righted.act(typed(act).unwrap()).unwrap();
            righted.play(end_s).unwrap();
            let [_, without, with] = &debrief.counterfactuals[..] else { panic!("{debrief:?}") };
            assert!(with.name.starts_with(act), "{}", with.name);
            same(without, &healthy);
            same(with, &righted);
        }
    }
}

#[test]
fn a_course_whose_act_comes_after_the_end_is_left_out_and_the_debrief_says_why() {
    let scenario = named("juno-the-loose-joint");
    let sign_s = told(&scenario, 1e9).marking.sign_s.unwrap();
    for end_s in [sign_s - 1.0, sign_s + 1.0, sign_s + 30.0] {
        let debrief = told(&scenario, end_s);
        assert_eq!(debrief.counterfactuals.len(), 2, "{end_s}");
        let why = debrief.left_out.clone().unwrap();
        assert!(why.contains("the right act 30 s after the first sign"), "{why}");
        assert!(debrief.to_text().contains(&format!("  - {why}\n")));
        assert!(page(&debrief, "").contains(&format!("<p>{why}</p>")));
    }
    // Where no act on offer puts it right there is nothing to leave out.
    let offers = |scenario: &Arc<Scenario>| {
        let mut scenario = Scenario::clone(scenario);
        let training = scenario.training.as_mut().unwrap();
        training.offers.retain(|name| *name != Act::ReseatJoint.name());
        Arc::new(scenario)
    };
    assert_eq!(told(&offers(&scenario), sign_s + 1.0).left_out, None);
}

/// Common practice, no source: a control that hides a fault, a cuff filled beyond its
/// limit and pressure into air under tension are no help, however the numbers look; and
/// nobody is told to leave out a call, a test or what makes a patient safe.
#[test]
fn practice_nothing_that_hurts_is_praised_and_nothing_that_saves_is_to_be_left_out() {
    let controls = ["flow", "pressure", "limit", "expiration"];
    let (mut praised, mut left_out) = (0, 0);
    for path in lessons() {
        let scenario = lesson(&path);
        for one in tries(&scenario) {
            let debrief = debrief(&scenario, &one.attempt, None).unwrap();
            let place = format!("{} {}", scenario.id, one.name);
            if let Some(otherwise) = &debrief.otherwise
                && let Some(act) = otherwise.strip_prefix("Leave out `")
            {
                let is_control = controls.iter().any(|word| act.starts_with(word));
                assert!(is_control, "{place}: {otherwise}");
                left_out += 1;
            }
            let helped = debrief.helped.unwrap_or_default();
            praised += usize::from(!helped.is_empty());
            assert!(!helped.contains("cuff 60"), "{place}: {helped}");
            if scenario.id.as_str() == "dapple-worse-with-every-breath" {
                assert!(!helped.contains("`pressure") && !helped.contains("`bag"), "{helped}");
            }
        }
    }
    assert!(praised > 20 && left_out > 1, "{praised} praised, {left_out} to be left out");
}

/// Common practice, no source: who bags air under tension is not told that it helped.
#[test]
fn practice_a_bag_into_air_under_tension_is_not_praised() {
    let scenario = named("dapple-worse-with-every-breath");
    let first = |seed: &u32| {
        let drawn = draw(scenario.training.as_ref().unwrap(), *seed).unwrap();
        drawn.first() == Some(tidewright::fault::Fault::TensionPneumothorax)
    };
    let seed = (1..200).find(first).unwrap();
    let mut session = Session::new(Arc::clone(&scenario), seed).unwrap();
    session.play(200.0).unwrap();
    session.act(typed("bag").unwrap()).unwrap();
    session.play(260.0).unwrap();
    let attempt = session.attempt(pseudonym("heron").unwrap());
    let debrief = debrief(&scenario, &attempt, None).unwrap();
    assert!(!debrief.helped.unwrap_or_default().contains("bag"));
}
