//! Every shipped lesson is proved: nobody thoughtless passes, everybody thoughtful does.
//! And a proof fails where a criterion is loosened.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::sync::Arc;

use common::{experts, lesson, lessons};
use tidewright_scenario::parse;
use tidewright_training::proof::{prove, prove_from};

#[test]
fn law_every_verdict_of_a_shipped_lesson_is_just() {
    let mut faults = Vec::new();
    let mut healthy = 0;
    for path in lessons() {
        let scenario = lesson(&path);
        let proof = prove(&scenario, &experts(&scenario)).unwrap();
        let count = |thoughtful| {
            let kinds = proof.kinds.iter().filter(|kind| kind.thoughtful == thoughtful);
            kinds.map(|kind| kind.members).sum::<usize>()
        };
        assert!(count(false) >= 400 && count(true) >= 40, "{}", proof.to_text());
        let pool = &scenario.training.as_ref().unwrap().pool;
        let well = pool.iter().any(|case| case.course.is_empty() && case.changes.is_empty());
        healthy += usize::from(well);
        if !proof.proved {
            faults.push(proof.to_text());
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!(3 * healthy >= lessons().len(), "{healthy} lessons have a healthy case");
}

/// A small part of what `examples/verdicts.rs` goes through: companies that no lesson was
/// made for.
#[test]
fn law_companies_of_other_seeds_find_no_unjust_verdict() {
    let mut faults = Vec::new();
    for (name, first_seeds) in [
        ("two-gauges", &[500, 9001][..]),
        ("fig", &[500, 5500]),
        ("juno", &[9001]),
        ("biscuit", &[500, 5500]),
        ("harlow", &[500, 9500]),
        ("tansy", &[500, 7000]),
        ("bracken", &[500, 8000]),
        ("loose-taper", &[500, 1500]),
    ] {
        let path = lessons().into_iter().find(|path| path.to_string_lossy().contains(name));
        let scenario = lesson(&path.unwrap());
        for &first_seed in first_seeds {
            let proof = prove_from(&scenario, &experts(&scenario), first_seed).unwrap();
            if !proof.proved {
                faults.push(format!("from seed {first_seed}: {}", proof.to_text()));
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// Who hopes for a cause by its place in a list finds look-alikes, and a neutral face tells
/// nothing of them.
#[test]
fn law_every_pool_has_look_alikes_and_a_face_that_does_not_tell() {
    for path in lessons() {
        let scenario = lesson(&path);
        let training = scenario.training.as_ref().unwrap();
        if training.pool.is_empty() {
            continue;
        }
        let id = &scenario.id;
        assert!(training.pool.len() >= 3, "{id} has {} cases", training.pool.len());
        let own = training.debrief.title.as_ref();
        let is_whole_case = id.as_str() == "marlow-the-whole-case";
        assert!(
            is_whole_case || own.is_some_and(|own| Some(own) != scenario.title.as_ref()),
            "{id}"
        );
        for case in &training.pool {
            let judged = training.criteria.iter().filter(|one| {
                one.cases.is_empty() || one.cases.iter().any(|own| own.as_str() == case.id.as_str())
            });
            assert!(judged.count() >= 4, "{id}: {}", case.id);
        }
    }
}

/// What is loosened in five lessons, in the words of their files.
#[test]
fn law_a_proof_fails_where_a_criterion_is_loosened() {
    let answered = |question: &str| format!("measure: Answered(question: \"{question}\")");
    let questions = ["cause", "sets", "shut"].map(answered);
    let [cause, sets, shut] = questions.each_ref().map(String::as_str);
    let (not_raised, breathes) =
        ("measure: CyclingPressureNotRaised", "measure: LongestApnoea(at_most_s: 60)");
    let loosened = [
        ("juno-the-loose-joint", vec![(cause, not_raised)]),
        ("ember-flow-through-a-wet-filter", vec![(cause, not_raised), (sets, not_raised)]),
        ("ruff-one-test-parts-two", vec![(cause, breathes), (shut, breathes)]),
        (
            "two-gauges-one-truth",
            vec![(
                "measure: Order(first: [Answer], before: [ChangeVentilator])",
                "measure: Acted(any_of: [ChangeVentilator], within_s: 300)",
            )],
        ),
        ("saffron-normal-peak-half-a-breath", vec![("after: [Listen],", "from_s: 0,")]),
    ];
    for (id, changes) in loosened {
        let path = lessons().into_iter().find(|path| path.ends_with(format!("{id}.ron"))).unwrap();
        let mut text = std::fs::read_to_string(&path).unwrap();
        for (tight, loose) in changes {
            assert!(text.contains(tight), "{id}");
            text = text.replace(tight, loose);
        }
        let scenario = Arc::new(parse("loose.ron", &text).unwrap());
        let proof = prove(&scenario, &experts(&scenario)).unwrap();
        assert!(!proof.proved, "{id} is still proved");
        let told = proof.unjust.iter().any(|one| one.passed && !one.criteria.is_empty());
        assert!(told, "{}", proof.to_text());
    }
}
