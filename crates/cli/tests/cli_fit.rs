//! Resistance and compliance from a waveform, as a person asks for them.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::{Desk, all_refused, fed, repository};
use serde_json::Value;

/// The built-in scenario's lung, before its leak opens.
#[test]
fn the_waveform_of_a_run_gives_its_lung_back() {
    let desk = Desk::new();
    desk.tidewright(&["run", "first.ron", "--csv", "first.csv"]);
    let arguments = ["fit", "first.csv", "--to", "25", "--json"];
    let outcome = desk.tidewright(&arguments);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    let fit: Value = serde_json::from_str(&outcome.stdout).unwrap();
    let near = |fit: &Value, what: &str, expected: f64, relative: f64| {
        let value = fit["refined"][what]["value"].as_f64().unwrap();
        assert!((value / expected - 1.0).abs() < relative, "{what} {value}");
    };
    near(&fit, "compliance_ml_cmh2o", 6.0, 1e-9);
    near(&fit, "resistance_cmh2o_s_l", 20.0, 1e-9);
    assert_eq!(fit["volume_from"], "column");
    let outcome = desk.tidewright(&["fit", "first.csv", "--to", "25", "--json", "--integrate"]);
    let fit: Value = serde_json::from_str(&outcome.stdout).unwrap();
    near(&fit, "compliance_ml_cmh2o", 6.0, 1e-4);
    near(&fit, "resistance_cmh2o_s_l", 20.0, 1e-2);
    assert_eq!(fit["volume_from"], "flow");
}

#[test]
fn a_fit_is_a_page_and_a_figure_of_what_is_left() {
    let desk = Desk::new();
    let data = std::fs::read(repository("tests/reference/fit/data.csv")).unwrap();
    desk.put("data.csv", &data);
    let arguments = ["fit", "data.csv", "--figure", "left.svg", "--figure", "left.csv"];
    let outcome = desk.tidewright(&arguments);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    insta::assert_snapshot!("fit", outcome.stdout);
    let figure = String::from_utf8(desk.get("left.svg")).unwrap();
    assert!(figure.contains("Measured − fitted") && figure.contains("Not a medical device"));
    let rows = String::from_utf8(desk.get("left.csv")).unwrap();
    assert!(rows.starts_with("curve,time_s,airway_pressure_cmh2o,residual_cmh2o,"), "{rows}");
    assert_eq!(rows.lines().count(), 1 + 3 * 400);
    let piped = fed(&["fit", "-"], &data);
    assert_eq!(piped.stdout, outcome.stdout.split("Figure:").next().unwrap());
}

#[test]
fn what_cannot_be_fitted_is_said() {
    let desk = Desk::new();
    desk.tidewright(&["run", "first.ron", "--csv", "first.csv"]);
    desk.put("words.csv", b"t_s,p_cmh2o,q_ml_s\n0,1,2\n1,often,3\n");
    desk.put("bare.csv", b"t,p,q\n0,1,2\n");
    let wrong: Vec<(&[&str], i32, &str)> = vec![
        (&["fit"], 2, "<WAVEFORM>"),
        (&["fit", "first.csv", "--figure", "first.csv"], 2, "is what this command reads"),
        (&["fit", "missing.csv"], 4, "no such file"),
        (&["fit", "words.csv"], 3, "line 3: \"often\" in the column `p_cmh2o`"),
        (&["fit", "bare.csv"], 3, "no column has a unit of time"),
        (&["fit", "first.csv", "--flow", "wind"], 3, "there is no column `wind`"),
        (&["fit", "first.csv", "--from", "0.2", "--to", "1"], 3, "expiration included"),
        (&["fit", "first.csv", "--from", "70"], 2, "from 0 to 60 s"),
        (&["fit", "first.csv", "--to", "0.05"], 3, "at least 12 are needed"),
        (&["fit", "first.csv", "--volume", "v", "--integrate"], 2, "cannot be used with"),
    ];
    all_refused(&desk, &wrong);
}

/// The leak that opens half-way takes volume that the flow at the airway never had:
/// with the whole run the equation still holds, and with a wrong column it does not.
#[test]
fn a_wrong_column_is_warned_of() {
    let desk = Desk::new();
    desk.tidewright(&["run", "first.ron", "--csv", "first.csv"]);
    let page = desk.tidewright(&["fit", "first.csv", "--flow", "outlet_flow_ml_s"]).stdout;
    assert!(page.contains("! "), "{page}");
    let page = desk.tidewright(&["fit", "first.csv"]).stdout;
    assert!(!page.contains("! "), "{page}");
}
