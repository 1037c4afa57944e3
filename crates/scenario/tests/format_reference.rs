//! `FORMAT.md` is made from the declarations of the format, and its examples
//! are scenarios.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright_scenario::{parse, reference};

#[test]
fn format_md_is_what_the_declarations_say() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/FORMAT.md");
    if std::env::var_os("UPDATE_FORMAT").is_some() {
        std::fs::write(path, reference()).unwrap();
    }
    let page = std::fs::read_to_string(path).unwrap();
    assert!(
        page == reference(),
        "FORMAT.md is out of date: run UPDATE_FORMAT=1 cargo test -p tidewright-scenario"
    );
}

#[test]
fn the_examples_of_the_reference_are_scenarios() {
    let page = reference();
    let examples: Vec<(&str, &str)> =
        page.split("```").skip(1).step_by(2).map(|block| block.split_once('\n').unwrap()).collect();
    // Those of cohorts belong to another room, whose tests read them.
    let of_scenarios = examples.into_iter().filter(|(_, text)| !text.starts_with("Cohort("));
    let (logs, scenarios): (Vec<_>, Vec<_>) =
        of_scenarios.partition(|(_, text)| text.starts_with("Attempt("));
    assert_eq!(scenarios.iter().map(|(kind, _)| *kind).collect::<Vec<_>>(), ["ron", "json", "ron"]);
    assert_eq!(logs.len(), 4);
    for (_, text) in logs {
        tidewright_scenario::parse_attempt("log.ron", text).expect("a log");
    }
    for (kind, text) in scenarios {
        let name = format!("example.{kind}");
        if let Err(rejected) = parse(&name, text) {
            panic!("{rejected}: {}", rejected.faults()[0]);
        }
    }
}
