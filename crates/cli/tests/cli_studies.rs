//! Plan and sweep as a person meets them.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::{Desk, all_refused};
use serde_json::Value;
use tidewright::prelude::*;
use tidewright::steady::periodic;

#[test]
fn a_plan_shows_model_and_rule_side_by_side() {
    let desk = Desk::new();
    let outcome = desk.tidewright(&["plan", "first.ron", "--rate-per-min", "12"]);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    insta::assert_snapshot!("plan", outcome.stdout);
}

/// The settings that the program prints, written into the file, give the breath.
#[test]
fn the_settings_of_a_plan_run_as_a_file_meet_the_goals() {
    let desk = Desk::new();
    let arguments = ["plan", "first.ron", "--minute-volume-ml-min-kg", "180", "--json"];
    let plan: Value = serde_json::from_str(&desk.tidewright(&arguments).stdout).unwrap();
    assert_eq!(plan["met"], true);
    let mut scenario: Value = serde_json::from_str(
        &tidewright_scenario::parse("", tidewright_scenario::DEMO).unwrap().to_json(),
    )
    .unwrap();
    for (name, value) in plan["settings"].as_object().unwrap() {
        scenario["ventilator"][name] = value.clone();
    }
    scenario["timeline"] = Value::Array(Vec::new());
    scenario.as_object_mut().unwrap().remove("training");
    let planned = tidewright_scenario::parse("planned.json", &scenario.to_string()).unwrap();
    let machine = Machine::new(planned.protocol().start).unwrap();
    let breath = periodic(&machine).unwrap().breath;
    let near = |value: f64, goal: f64| assert!((value / goal - 1.0).abs() < 1e-3, "{value} {goal}");
    near(breath.inspired_tidal_volume.as_ml(), 45.0);
    near(breath.rate_per_min(), 18.0);
    near(breath.inspiratory_time.as_s(), 60.0 / 18.0 / 3.0);
    assert_eq!(breath.ended_by, EndedBy::Pressure);
}

#[test]
fn an_end_tidal_goal_gives_the_rate() {
    let desk = Desk::new();
    let rate = |mmhg: &str| {
        let outcome =
            desk.tidewright(&["plan", "first.ron", "--end-tidal-co2-mmhg", mmhg, "--json"]);
        assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
        let plan: Value = serde_json::from_str(&outcome.stdout).unwrap();
        plan["settings"]["expiratory_time_s"].as_f64().unwrap()
            + plan["breath"]["inspiratory_time_s"].as_f64().unwrap()
    };
    // Twice the pressure, half the ventilation; breaths follow each other more slowly then,
    // and their gas swings more.
    assert!((rate("60") / rate("30") - 2.0).abs() < 0.1);
    let page = desk.tidewright(&["plan", "first.ron", "--end-tidal-co2-mmhg", "40"]).stdout;
    assert!(page.contains("40 mmHg of end-tidal carbon dioxide"), "{page}");
}

#[test]
fn goals_out_of_reach_end_with_code_1_and_say_what_it_takes() {
    let desk = Desk::new();
    let mut arguments =
        vec!["plan", "first.ron", "--rate-per-min", "12", "--largest-fresh-gas-flow-l-min", "1"];
    let outcome = desk.tidewright(&arguments);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (1, ""));
    assert!(outcome.stdout.contains("it takes 1.66 L/min"), "{}", outcome.stdout);
    arguments.push("--json");
    let outcome = desk.tidewright(&arguments);
    let told: Value = serde_json::from_str(&outcome.stdout).unwrap();
    assert_eq!((outcome.code, &told["met"]), (1, &Value::Bool(false)));
    assert_eq!(told["obstacles"].as_array().unwrap().len(), 1);
}

#[test]
fn a_sweep_is_a_table_a_file_of_rows_and_a_figure() {
    let desk = Desk::new();
    let over = "ventilator.cycling_pressure_cmh2o=6,8,9";
    let outcome = desk.tidewright(&[
        "sweep",
        "first.ron",
        "--over",
        over,
        "--csv",
        "rows.csv",
        "--figure",
        "curves.svg",
    ]);
    assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
    insta::assert_snapshot!("sweep", outcome.stdout);
    let file = desk.get("rows.csv");
    let mut rows = csv::Reader::from_reader(&file[..]);
    let heads = rows.headers().unwrap().clone();
    assert_eq!(&heads[0], "ventilator.cycling_pressure_cmh2o");
    let peak = heads.iter().position(|head| head == "peak_pressure_cmh2o").unwrap();
    let rows: Vec<_> = rows.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 3);
    for row in rows {
        let (level, peak): (f64, f64) = (row[0].parse().unwrap(), row[peak].parse().unwrap());
        assert!((peak - level).abs() < 1e-9, "{peak} at {level}");
    }
    let figure = String::from_utf8(desk.get("curves.svg")).unwrap();
    assert!(figure.contains("Cycling pressure (cmH₂O)") && figure.contains("Not a medical device"));
}

#[test]
fn two_fields_make_a_family_or_a_map() {
    let desk = Desk::new();
    let sweep = |first: &str, figure: &str| {
        let second = "ventilator.fresh_gas_flow_l_min=1..2:0.25";
        let outcome = desk.tidewright(&[
            "sweep",
            "first.ron",
            "--over",
            first,
            "--over",
            second,
            "--figure",
            figure,
            "--csv",
            "-",
        ]);
        assert_eq!((outcome.code, outcome.stderr.as_str()), (0, ""));
        outcome.stdout.lines().count() - 1
    };
    assert_eq!(sweep("ventilator.cycling_pressure_cmh2o=6,8,9", "family.csv"), 15);
    assert_eq!(sweep("ventilator.cycling_pressure_cmh2o=6..12:1", "map.csv"), 35);
    let map = String::from_utf8(desk.get("map.csv")).unwrap();
    assert!(
        map.starts_with("cycling_pressure_cmh2o,fresh_gas_flow_l_min,inspired_tidal_volume_ml")
    );
    assert_eq!(map.lines().count(), 36);
}

#[test]
fn what_cannot_be_swept_or_planned_is_said() {
    let desk = Desk::new();
    let standby =
        tidewright_scenario::DEMO.replace("ventilator: (", "ventilator: (\n        mode: Standby,");
    desk.put("standby.ron", standby.as_bytes());
    let wrong: Vec<(&[&str], i32, &str)> = vec![
        (&["plan", "first.ron"], 2, "--rate-per-min"),
        (&["plan", "first.ron", "--rate-per-min", "-1"], 2, "the goal for the rate is -1"),
        (&["plan", "standby.ron", "--rate-per-min", "9"], 3, "stands by"),
        (&["sweep", "first.ron"], 2, "--over"),
        (
            &["sweep", "first.ron", "--over", "patient.weight_kg=1", "--csv", "first.ron"],
            2,
            "is what this command reads",
        ),
        (&["sweep", "first.ron", "--over", "ventilator.expiratory_time_s"], 2, "PATH=1,2,3"),
        (&["sweep", "first.ron", "--over", "ventilator.wings=1,2"], 3, "no field `wings`"),
        (&["sweep", "first.ron", "--over", "circuit.leak.ml_min=5"], 3, "at_cmh2o"),
        (&["sweep", "first.ron", "--over", "patient.weight_kg=1", "--show", "size"], 2, "use one"),
        (
            &[
                "sweep",
                "first.ron",
                "--over",
                "patient.weight_kg=1",
                "--over",
                "patient.weight_kg=2",
            ],
            2,
            "given twice",
        ),
    ];
    all_refused(&desk, &wrong);
}

#[test]
fn a_patient_with_its_own_drive_has_no_settled_breath_to_plan() {
    let scenario =
        concat!(env!("CARGO_MANIFEST_DIR"), "/../../scenarios/rebreathing-on-a-t-piece.ron");
    let outcome = Desk::new().tidewright(&["plan", scenario, "--rate-per-min", "12"]);
    assert_eq!(outcome.code, 3);
    assert!(outcome.stderr.contains("own drive"), "{}", outcome.stderr);
}
