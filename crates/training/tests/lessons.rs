//! Every lesson passes its experts, fails who does nothing, and fails the
//! typical mistake for its stated reason.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::{lesson, lessons, tries};
use tidewright_scenario::format::{ActName, Case, Measure, Whom};
use tidewright_scenario::{parse, parse_attempt};
use tidewright_training::debrief::debrief;
use tidewright_training::{BANNER, Marking, Session, mark, page, replay};

fn complaints(marking: &Marking) -> String {
    let unmet = marking.criteria.iter().filter(|judged| !judged.met);
    unmet.map(|j| format!("\n    {}: {} (wanted {})", j.measure, j.found, j.wanted)).collect()
}

#[test]
fn every_attempt_of_every_lesson_marks_as_it_should() {
    let mut faults = Vec::new();
    for path in lessons() {
        let scenario = lesson(&path);
        assert_eq!(path.file_stem().unwrap().to_str().unwrap(), scenario.id.as_str());
        let tries = tries(&scenario);
        for kind in ["expert", "nothing", "wrong"] {
            let any = tries.iter().any(|one| one.name.starts_with(kind));
            assert!(any, "{} has no attempt `{kind}`", scenario.id);
        }
        for one in &tries {
            let marking = mark(&scenario, &one.attempt)
                .unwrap_or_else(|error| panic!("{} {}: {error}", scenario.id, one.name));
            let said = format!(
                "{} {} (onset {:?}, sign {:?} at {:?}):{}",
                scenario.id,
                one.name,
                marking.onset_s,
                marking.sign,
                marking.sign_s,
                complaints(&marking)
            );
            let expert = one.name.starts_with("expert");
            if marking.passed != expert {
                faults.push(format!("passed: {}: {said}", marking.passed));
            }
            if let Some(reason) = &one.fails {
                let found = marking.criteria.iter().any(|j| !j.met && &j.measure == reason);
                if !found {
                    faults.push(format!("does not fail for `{reason}`: {said}"));
                }
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn every_debrief_is_whole_and_says_the_caution() {
    for path in lessons() {
        let scenario = lesson(&path);
        for one in tries(&scenario) {
            let debrief = debrief(&scenario, &one.attempt, None).unwrap();
            let text = debrief.to_text();
            assert!(text.starts_with(BANNER));
            assert!(!text.contains(['{', '}']), "{}", scenario.id);
            let html = page(&debrief, "");
            assert!(html.contains(BANNER) && !html.contains("http"));
            assert!(debrief.to_json().contains(BANNER));
        }
    }
}

#[test]
fn law_a_live_lesson_and_its_replay_agree_to_the_last_bit() {
    for path in lessons() {
        let scenario = lesson(&path);
        let experts = tries(&scenario).into_iter().filter(|one| one.name.starts_with("expert"));
        for one in experts {
            let log = one.attempt;
            let mut live = Session::dealt(&scenario, log.seed, log.dealt.clone()).unwrap();
            let watch = |live: &mut Session, until_s: f64| {
                let mut clock_s = live.now_s();
                while clock_s < until_s {
                    clock_s = (clock_s + 0.37).min(until_s);
                    live.advance(clock_s, &mut |_| {}).unwrap();
                }
            };
            for timed in &log.acts {
                watch(&mut live, timed.at_s);
                live.act(timed.act.clone()).unwrap();
            }
            watch(&mut live, log.ended_at_s);
            let again = replay(&scenario, &log).unwrap();
            let name = &scenario.id;
            assert_eq!(live.now_s(), again.now_s(), "{name}");
            assert_eq!(live.rows(), again.rows(), "{name}");
            assert_eq!(live.gas_breaths(), again.gas_breaths(), "{name}");
            assert_eq!(live.totals(), again.totals(), "{name}");
            assert_eq!(live.seen(), again.seen(), "{name}");
        }
    }
}

#[test]
fn the_same_attempt_marks_to_the_same_bits() {
    for path in lessons() {
        let scenario = lesson(&path);
        for one in tries(&scenario) {
            let marks = || debrief(&scenario, &one.attempt, None).unwrap().to_json();
            assert_eq!(marks(), marks());
            let again = parse_attempt("a.ron", &one.attempt.to_ron()).unwrap();
            assert_eq!(again, one.attempt);
            let again = parse_attempt("a.json", &one.attempt.to_json()).unwrap();
            assert_eq!(again, one.attempt);
        }
    }
}

#[test]
fn every_lesson_written_back_is_the_same() {
    for path in lessons() {
        let scenario = lesson(&path);
        for (name, text) in [("x.ron", scenario.to_ron()), ("x.json", scenario.to_json())] {
            assert_eq!(parse(name, &text).unwrap(), *scenario);
        }
    }
}

/// Whoever finds something wrong with a patient tells the surgeon, and soon.
#[test]
fn practice_a_call_has_a_time_wherever_something_is_found() {
    let mut judged = 0;
    for path in lessons() {
        let scenario = lesson(&path);
        let training = scenario.training.as_ref().unwrap();
        if training.harm.to == Whom::TestLung {
            continue;
        }
        let wrong = |case: &&Case| !case.course.is_empty() || !case.changes.is_empty();
        for case in training.pool.iter().filter(wrong) {
            let of_case = training.criteria.iter().filter(|one| {
                one.cases.is_empty() || one.cases.iter().any(|id| id.as_str() == case.id.as_str())
            });
            let calls = |acts: &[ActName]| acts == [ActName::CallSurgeon];
            let timed = of_case.filter(|one| match &one.measure {
                Measure::Acted(acts) => calls(&acts.any_of),
                Measure::Followed(next) => calls(&next.by),
                _ => false,
            });
            assert!(timed.count() > 0, "{}: no call with a time in `{}`", scenario.id, case.id);
            judged += 1;
        }
    }
    assert!(judged >= 30, "{judged} cases");
}
