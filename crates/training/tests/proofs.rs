//! Every shipped lesson is proved: nobody thoughtless passes, everybody thoughtful does.
//! And a proof fails where a criterion is loosened.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::sync::Arc;

use common::{lesson, lessons, tries};
use tidewright_scenario::{Attempt, Scenario, parse};
use tidewright_training::proof::prove;

fn experts(scenario: &Scenario) -> Vec<Attempt> {
    let tries = tries(scenario).into_iter().filter(|one| one.name.starts_with("expert"));
    tries.map(|one| one.attempt).collect()
}

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

/// What is loosened in five lessons, in the words of their files.
#[test]
fn law_a_proof_fails_where_a_criterion_is_loosened() {
    let loosened = [
        ("juno-the-loose-joint", "suggested_pass_percent: 75", "suggested_pass_percent: 50"),
        (
            "quill-undo-what-you-did",
            "goes: Up, at_least_percent: 10",
            "goes: Same, at_least_percent: 900",
        ),
        ("tansy-a-stiff-chest", "suggested_pass_percent: 75", "suggested_pass_percent: 55"),
        (
            "two-gauges-one-truth",
            "strand: Recognition, points: 4, measure: Answered(question: \"true\")",
            "strand: Recognition, points: 0, measure: Answered(question: \"true\")",
        ),
        ("saffron-normal-peak-half-a-breath", "after: [Listen],", "from_s: 0,"),
    ];
    for (id, tight, loose) in loosened {
        let path = lessons().into_iter().find(|path| path.ends_with(format!("{id}.ron"))).unwrap();
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.contains(tight), "{id}");
        let scenario = Arc::new(parse("loose.ron", &text.replace(tight, loose)).unwrap());
        let proof = prove(&scenario, &experts(&scenario)).unwrap();
        assert!(!proof.proved, "{id} is still proved");
        let told = proof.unjust.iter().any(|one| one.passed && !one.criteria.is_empty());
        assert!(told, "{}", proof.to_text());
    }
}
