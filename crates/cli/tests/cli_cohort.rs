//! Cohorts as a person meets them: page, rows, a run that is stopped and taken up.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use std::process::Stdio;

use common::{Desk, Outcome, all_refused, files, repository, tidewright};
use serde_json::Value;

fn cohort(patients: u32) -> String {
    format!(
        "Cohort(format: 1, id: \"cats\", base: \"first.ron\", patients: {patients},
            lungs: Individual, vary: (weight_kg: Uniform(from: 3, to: 5)),
            targets: [(measure: InspiredTidalVolumePerKg, from: 8, to: 12)],
            harms: [(measure: PeakPressure, above: 25)])"
    )
}

#[test]
fn a_cohort_is_a_page_an_object_and_rows() {
    let desk = Desk::new();
    desk.put("cats.ron", cohort(500).as_bytes());
    let page = desk.tidewright(&["cohort", "cats.ron", "--csv", "rows.csv"]);
    assert_eq!((page.code, page.stderr.as_str()), (0, ""));
    insta::assert_snapshot!("cohort", page.stdout);
    assert!(!desk.names().contains(&"rows.csv.partial".to_owned()));

    let object = desk.tidewright(&["cohort", "cats.ron", "--json"]).stdout;
    let object: Value = serde_json::from_str(&object).unwrap();
    let file = desk.get("rows.csv");
    let mut rows = csv::Reader::from_reader(&file[..]);
    let heads = rows.headers().unwrap().clone();
    let column = |name: &str| heads.iter().position(|head| head == name).unwrap();
    let (within, volume) = (column("within_target"), column("inspired_tidal_volume_ml_kg"));
    let rows: Vec<_> = rows.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 500);
    let counted = rows.iter().filter(|row| &row[within] == "yes").count();
    assert_eq!(object["within_target"], counted);
    let volumes: Vec<f64> = rows.iter().map(|row| row[volume].parse().unwrap()).collect();
    assert_eq!(volumes.iter().filter(|v| (8.0..=12.0).contains(*v)).count(), counted);
    let mean = object["measures"]["inspired_tidal_volume_ml_kg"]["mean"].as_f64().unwrap();
    assert!((mean / (volumes.iter().sum::<f64>() / 500.0) - 1.0).abs() < 1e-12);
}

#[test]
fn rows_are_the_same_for_any_number_of_threads() {
    let desk = Desk::new();
    desk.put("cats.ron", cohort(9000).as_bytes());
    let rows = |threads: &str| {
        let mut program = common::program();
        program.env("RAYON_NUM_THREADS", threads).current_dir(desk.path(""));
        Outcome::of(program.args(["cohort", "cats.ron", "--csv", "-"]).output().unwrap()).stdout
    };
    let one = rows("1");
    assert_eq!(one.lines().count(), 9001);
    assert!(one == rows("2") && one == rows("5"));
}

/// Killed at any moment and started again, the file is the same.
#[test]
fn a_run_that_is_killed_is_taken_up_again() {
    let desk = Desk::new();
    desk.put("cats.ron", cohort(150_000).as_bytes());
    let whole = desk.tidewright(&["cohort", "cats.ron", "--csv", "whole.csv"]);
    assert_eq!(whole.code, 0);
    let arguments = ["cohort", "cats.ron", "--csv", "rows.csv"];
    let mut run = common::program();
    let run = run.current_dir(desk.path("")).args(arguments);
    let mut run = run.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let partial = desk.path("rows.csv.partial");
    let written = || std::fs::metadata(&partial).map_or(0, |file| file.len());
    while written() < 9_000_000 && run.try_wait().unwrap().is_none() {
        std::thread::yield_now();
    }
    run.kill().unwrap();
    run.wait().unwrap();
    let killed = partial.exists();
    let again = desk.tidewright(&arguments);
    assert_eq!((again.code, again.stderr.as_str()), (0, ""));
    assert_eq!(again.stdout.contains("Taken up again after"), killed, "{}", again.stdout);
    assert!(desk.get("rows.csv") == desk.get("whole.csv"));
    assert!(!partial.exists());
}

#[test]
fn rows_of_another_cohort_are_not_taken_up() {
    let desk = Desk::new();
    desk.put("cats.ron", cohort(5000).as_bytes());
    desk.tidewright(&["cohort", "cats.ron", "--csv", "rows.csv"]);
    std::fs::rename(desk.path("rows.csv"), desk.path("rows.csv.partial")).unwrap();
    desk.put("cats.ron", cohort(5000).replace("from: 3", "from: 3.1").as_bytes());
    let refused = desk.tidewright(&["cohort", "cats.ron", "--csv", "rows.csv"]);
    assert_eq!((refused.code, refused.stdout.as_str()), (4, ""));
    let said = refused.stderr.replace('│', " ");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("remove rows.csv.partial to begin anew"), "{said}");
    assert!(desk.names().contains(&"rows.csv.partial".to_owned()));
}

#[test]
fn what_is_wrong_with_a_cohort_is_said() {
    let desk = Desk::new();
    desk.put("cats.ron", cohort(5).as_bytes());
    desk.put("lost.ron", cohort(5).replace("first.ron", "missing.ron").as_bytes());
    desk.put("none.ron", cohort(0).as_bytes());
    let wrong: Vec<(&[&str], i32, &str)> = vec![
        (&["cohort"], 2, "<COHORT>"),
        (&["cohort", "cats.ron", "--csv", "-", "--json"], 2, "give the rows a file"),
        (&["cohort", "cats.ron", "--csv", "nowhere/rows.csv"], 4, "make the folder first"),
        (&["cohort", "cats.ron", "--csv", "./cats.ron"], 2, "is what this command reads"),
        (&["cohort", "cats.ron", "--csv", "first.ron"], 2, "is what this command reads"),
        (&["cohort", "lost.ron"], 3, "the base of this cohort: cannot read missing.ron"),
        (&["cohort", "lost.ron"], 3, "[lost.ron:1:37]"),
        (&["cohort", "lost.ron"], 3, "as seen from the folder of the cohort file"),
        (&["cohort", "absent.ron"], 4, "cannot read absent.ron"),
        (&["cohort", "none.ron"], 3, "patients"),
        (&["cohort", "first.ron"], 3, "`Cohort(…)`"),
    ];
    all_refused(&desk, &wrong);
}

#[test]
fn the_example_and_every_cohort_of_the_repository_run() {
    let desk = Desk::new();
    let example = desk.tidewright(&["cohort", "--example"]).stdout;
    desk.put("cats.ron", example.as_bytes());
    let outcome = desk.tidewright(&["cohort", "cats.ron"]);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    let cohorts = files("scenarios/cohorts");
    assert!(!cohorts.is_empty());
    for path in cohorts {
        let outcome = tidewright(["cohort".as_ref(), path.as_os_str()]);
        assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""), "{}", path.display());
        let follows_gas = std::fs::read_to_string(&path).unwrap().contains("gas: (");
        assert_eq!(outcome.stdout.contains("without a breath"), follows_gas, "{}", outcome.stdout);
    }
    assert!(repository("scenarios/cohorts/one-rule-many-cats.ron").is_file());
}
