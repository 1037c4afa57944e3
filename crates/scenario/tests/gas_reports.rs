//! Carbon dioxide and oxygen in the reports of a run.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use serde_json::Value;
use tidewright::run::Simulation;
use tidewright_scenario::{DEMO, Scenario, parse, report};

struct Reports {
    json: Value,
    csv: String,
    table: report::Table,
    ending: report::Ending,
}

fn reports(scenario: &Scenario, samples_per_s: f64) -> Reports {
    let (mut json, mut csv) = (Vec::new(), Vec::new());
    let mut table = report::Table::new(scenario);
    let mut json_report = report::JsonReport::begin(&mut json, scenario).unwrap();
    let mut waveform = report::CsvWaveform::begin(&mut csv, scenario, samples_per_s).unwrap();
    let simulation = Simulation::new(&scenario.protocol()).unwrap();
    let ending = report::watch(scenario, &simulation, |progress| {
        table.progress(progress);
        json_report.progress(progress)?;
        waveform.progress(progress)
    })
    .unwrap();
    json_report.end(&ending).unwrap();
    waveform.end().unwrap();
    let csv = String::from_utf8(csv).unwrap();
    Reports { json: serde_json::from_slice(&json).unwrap(), csv, table, ending }
}

/// The demo's cat with gas exchange and other fields in its blocks.
fn demo_with(gas: &str, changes: &[(&str, &str)]) -> Scenario {
    let mut text = DEMO.replace("duration_s: 60", &format!("gas: ({gas}), duration_s: 60"));
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    parse("variant.ron", &text).unwrap()
}

/// A dog that breathes by itself at a T-piece.
fn sleeper(flow_l_min: f64, depth: f64, gas: &str) -> Scenario {
    let text = format!(
        "(format: 1, id: \"sleeper\",
        patient: (species: Dog, weight_kg: 12, effort: Drive(depth: {depth})),
        ventilator: (mode: Standby, fresh_gas_flow_l_min: {flow_l_min}, cycling_pressure_cmh2o: 10,
            inspiratory_time_limit_s: 3, expiratory_time_s: 2),
        gas: ({gas}), duration_s: 900)"
    );
    parse("sleeper.ron", &text).unwrap()
}

fn keys(value: &Value) -> Vec<&str> {
    value.as_object().unwrap().keys().map(String::as_str).collect()
}

const GAS_KEYS: [&str; 11] = [
    "alveolar_ventilation_l_min",
    "arterial_co2_mmhg",
    "arterial_o2_mmhg",
    "dead_space_fraction",
    "end_tidal_co2_mmhg",
    "inspired_co2_mmhg",
    "inspired_oxygen_percent",
    "mean_inspired_co2_mmhg",
    "mixed_expired_co2_mmhg",
    "reaches_lung",
    "spo2_percent",
];

#[test]
fn the_json_report_has_the_keys_of_the_contract() {
    let Reports { json, .. } = reports(&demo_with("", &[]), 1.0);
    let plain = reports(&parse("demo.ron", DEMO).unwrap(), 1.0).json;
    let mut expected = [keys(&plain["breaths"][0]), GAS_KEYS.to_vec()].concat();
    expected.sort_unstable();
    for breath in json["breaths"].as_array().unwrap() {
        assert_eq!(keys(breath), expected);
    }
    assert_eq!(json["own_breaths"], Value::Array(vec![]));
    let expected = [
        "balance",
        "cylinder_left_l",
        "cylinder_minutes_left",
        "end_tidal_co2_above_limit_min",
        "end_tidal_co2_below_limit_min",
        "heart_rate_per_min",
        "highest_arterial_co2_mmhg",
        "highest_end_tidal_co2_mmhg",
        "highest_mean_inspired_co2_mmhg",
        "last_breath",
        "longest_without_breath_s",
        "lowest_arterial_co2_mmhg",
        "lowest_end_tidal_co2_mmhg",
        "lowest_mean_arterial_mmhg",
        "lowest_spo2_percent",
        "mean_arterial_mmhg",
        "own_breaths",
        "oxygen_used_l",
        "spo2_below_limit_min",
        "vapour_liquid_ml_per_h",
        "vapour_liquid_used_ml",
    ];
    assert_eq!(keys(&json["summary"]["gas"]), expected);
    let own = reports(&sleeper(4.0, 0.7, ""), 1.0).json;
    let mut expected = GAS_KEYS.to_vec();
    expected.extend(["duration_s", "expired_ml", "inspired_ml", "rate_per_min", "start_s"]);
    expected.sort_unstable();
    assert!(own["own_breaths"].as_array().unwrap().len() > 100);
    assert_eq!(keys(&own["own_breaths"][5]), expected);
    assert_eq!(own["summary"]["gas"]["own_breaths"], own["own_breaths"].as_array().unwrap().len());
}

#[test]
fn without_gas_nothing_of_it_is_reported() {
    let Reports { json, csv, ending, .. } = reports(&parse("demo.ron", DEMO).unwrap(), 1.0);
    assert!(json.get("own_breaths").is_none() && json["summary"].get("gas").is_none());
    assert!(!csv.lines().next().unwrap().contains("co2"));
    assert!(!ending.story.contains("carbon dioxide"));
}

/// Gas changes nothing of a breath that it does not drive.
#[test]
fn law_gas_leaves_the_breaths_as_they_are() {
    let plain = reports(&parse("demo.ron", DEMO).unwrap(), 1.0).json;
    let with_gas = reports(&demo_with("", &[]), 1.0).json;
    for (a, b) in
        plain["breaths"].as_array().unwrap().iter().zip(with_gas["breaths"].as_array().unwrap())
    {
        for key in keys(a) {
            assert_eq!(a[key], b[key], "{key}");
        }
    }
}

#[test]
fn every_breath_of_the_ventilator_has_its_own_gases() {
    // A breath that standby ended, and one whose way is shut, are among them.
    let scenario = demo_with(
        "",
        &[(
            "(at_s: 30, set: Leak(ml_min: 3000, at_cmh2o: 30)),",
            "(at_s: 23.5, set: Mode(Standby)), (at_s: 40, set: Mode(Ventilating)),
             (at_s: 50, set: PatientPort(Blocked)),",
        )],
    );
    let Reports { json, .. } = reports(&scenario, 1.0);
    let breaths = json["breaths"].as_array().unwrap();
    assert!(breaths.iter().any(|breath| breath["ended_by"] == "standby"));
    for breath in breaths {
        assert!(breath["end_tidal_co2_mmhg"].is_number(), "{breath}");
    }
}

#[test]
fn the_waveform_shows_the_capnogram_and_what_pulls() {
    let scenario = sleeper(4.0, 0.7, "capnograph: (delay_s: 2, rise_time_s: 0)");
    let Reports { csv, .. } = reports(&scenario, 20.0);
    let mut lines = csv.lines();
    assert!(lines.next().unwrap().ends_with(
        "muscle_pressure_cmh2o,pleural_pressure_cmh2o,co2_mmhg,shown_co2_mmhg,oxygen_percent,\
         alveolar_co2_mmhg,arterial_co2_mmhg,arterial_o2_mmhg,spo2_percent,phase,\
         for_teaching_only_not_a_medical_device"
    ));
    let column = |name: usize| -> Vec<f64> {
        csv.lines().skip(1).map(|row| row.split(',').nth(name).unwrap().parse().unwrap()).collect()
    };
    let [muscle, pleural, at_patient, shown] = [7, 8, 9, 10].map(column);
    assert!(muscle.iter().any(|&pressure| pressure > 2.0));
    assert!(muscle.iter().zip(&pleural).all(|(muscle, pleural)| muscle + pleural == 0.0));
    // What the monitor shows is what was there 2 s, 40 rows, before; it sees the ends of
    // strides, of a twentieth of a second at most.
    for (then, now) in at_patient.windows(5).zip(&shown[42..]) {
        let (low, high) = (
            then.iter().copied().fold(f64::MAX, f64::min),
            then.iter().copied().fold(0.0, f64::max),
        );
        assert!((low - 0.1..=high + 0.1).contains(now), "{now} after {then:?}");
    }
    let highest = shown.iter().copied().fold(0.0, f64::max);
    assert!((35.0..75.0).contains(&highest), "{highest}");
}

#[test]
fn a_table_with_gas_fits_its_width_and_shows_end_tidal_first() {
    for scenario in [demo_with("", &[]), sleeper(1.0, 0.7, "")] {
        let Reports { table, .. } = reports(&scenario, 1.0);
        for width in [60, 80, 120] {
            let fitted = table.within(width).lines;
            assert!(fitted.lines().all(|line| line.chars().count() <= width), "{fitted}");
            assert!(fitted.contains("EtCO2") && !fitted.contains(" – "), "{fitted}");
        }
        assert!(table.within(120).lines.contains("SpO2"));
    }
}

#[test]
fn the_story_tells_what_the_gas_did_and_why() {
    let told = |scenario: &Scenario| reports(scenario, 1.0).ending.story;
    let rebreathing = told(&sleeper(0.8, 0.7, ""));
    assert!(rebreathing.contains("it rebreathes"), "{rebreathing}");
    assert!(rebreathing.contains("by itself") && !rebreathing.contains("no breath to read"));
    let plenty = told(&sleeper(8.0, 0.7, ""));
    assert!(!plenty.contains("rebreathes") && plenty.contains("End-tidal"), "{plenty}");
    let apnoea = told(&sleeper(4.0, 1.0, "oxygen_percent: 21"));
    assert!(apnoea.contains("No gas is breathed") && apnoea.contains("there is no breath"));
    assert!(apnoea.contains("is below 90 % for"), "{apnoea}");
    let leak = "(at_s: 30, set: Leak(ml_min: 3000, at_cmh2o: 30)),";
    let low_output = "(at_s: 30, set: CardiacOutput(percent: 25)),";
    let low_output = told(&demo_with("", &[(leak, low_output)]));
    assert!(low_output.contains("The heart pumps 25 % of what is typical"), "{low_output}");
}

#[test]
fn after_an_apnoea_the_store_is_told_and_no_saturation_is_below_the_lowest() {
    let leak = "(at_s: 30, set: Leak(ml_min: 3000, at_cmh2o: 30)),";
    let apnoea = "(at_s: 30, set: Mode(Standby)), (at_s: 40, set: PatientPort(Open)),\
                  (at_s: 300, set: PatientPort(Connected)), (at_s: 300, set: Mode(Ventilating)),";
    let long = ("duration_s: 60", "duration_s: 340");
    let report = reports(&demo_with("", &[(leak, apnoea), long]), 1.0);
    let story = &report.ending.story;
    assert!(story.contains("is still being breathed out"), "{story}");
    assert!(!story.contains("too little for what it makes"), "{story}");
    let lowest = report.json["summary"]["gas"]["lowest_spo2_percent"].as_f64().unwrap();
    let rows = report.json["breaths"].as_array().unwrap().iter();
    let ends = rows.map(|row| row["spo2_percent"].as_f64().unwrap()).fold(100.0, f64::min);
    assert!(ends < 90.0 && lowest <= ends, "{lowest} {ends}");
}

/// 2.2 L/min for one minute from 2 L at 30 bar: 59.2 L less 2.2 L last 25.9 min at
/// that flow. 2.2 L/min through a dial of 2 % take up 2200·2/98·60/200 = 13.5 mL of liquid in an hour.
#[test]
fn closed_form_supplies_of_the_summary() {
    let gas = "vaporiser: (dial_percent: 2), cylinder: (inner_volume_l: 2, gauge_bar: 30)";
    let Reports { ending, .. } = reports(&demo_with(gas, &[]), 1.0);
    let gas = ending.summary.gas.unwrap();
    let near = |value: Option<f64>, expected: f64| (value.unwrap() / expected - 1.0).abs() < 1e-3;
    assert!((gas.oxygen_used_l - 2.2).abs() < 1e-9, "{}", gas.oxygen_used_l);
    let left_l = 2.0 * 30.0 / 1.01325 - 2.2;
    assert!(near(gas.cylinder_left_l, left_l) && near(gas.cylinder_minutes_left, left_l / 2.2));
    assert!(near(gas.vapour_liquid_ml_per_h, 2200.0 * 2.0 / 98.0 * 60.0 / 200.0));
    assert!(near(gas.vapour_liquid_used_ml, 2200.0 * 2.0 / 98.0 / 200.0));
}

/// 2 L at 0.3 bar are 0.592 L: at 2.2 L/min 16.1 s, by Boyle's law. Then no gas
/// flows, no breath ends by its pressure, and nothing more is used.
#[test]
fn closed_form_an_empty_cylinder_stops_the_fresh_gas() {
    let full_l = 2.0 * 0.3 / 1.01325;
    let scenario = demo_with("cylinder: (inner_volume_l: 2, gauge_bar: 0.3)", &[]);
    let empty_s = scenario.cylinder_empty_at_s().unwrap();
    assert!((empty_s - full_l / 2.2 * 60.0).abs() < 1e-9, "{empty_s}");
    let Reports { json, ending, .. } = reports(&scenario, 1.0);
    let gas = ending.summary.gas.unwrap();
    assert!((gas.oxygen_used_l / full_l - 1.0).abs() < 1e-9 && gas.cylinder_left_l < Some(1e-9));
    assert_eq!(gas.cylinder_minutes_left, None);
    assert!(
        ending.cautions.iter().any(|caution| caution.contains("The cylinder was empty 0.27 min"))
    );
    assert!(ending.story.contains("the cylinder is empty"), "{}", ending.story);
    let breaths = json["breaths"].as_array().unwrap();
    let after = breaths.iter().filter(|row| row["start_s"].as_f64() > Some(empty_s));
    let causes: Vec<_> = after.map(|row| row["ended_by"].as_str().unwrap().to_owned()).collect();
    assert!(causes.len() >= 4 && causes.iter().all(|cause| cause == "time"), "{causes:?}");
    // Half the flow lasts twice as long, and half the oxygen in it too.
    for (flow, percent, times) in [(1.1, 100.0, 2.0), (2.2, 50.0, 2.0), (1.1, 50.0, 4.0)] {
        let gas =
            format!("oxygen_percent: {percent}, cylinder: (inner_volume_l: 2, gauge_bar: 0.3)");
        let mut slower = demo_with(&gas, &[]);
        slower.ventilator.fresh_gas_flow_l_min = flow;
        slower.duration_s = 600.0;
        let lasts_s = slower.cylinder_empty_at_s().unwrap();
        assert!((lasts_s / empty_s - times).abs() < 1e-12, "{flow} {percent}: {lasts_s}");
    }
}

/// The times of the summary are those that the breaths and the waveform add up to.
#[test]
fn twin_times_outside_the_limits_by_breaths_and_by_samples() {
    let limits = "limits: (lowest_end_tidal_co2_mmhg: 20, highest_end_tidal_co2_mmhg: 41,
        lowest_spo2_percent: 95), oxygen_percent: 15";
    let Reports { json, csv, ending, .. } = reports(&sleeper(1.5, 0.5, limits), 50.0);
    let gas = ending.summary.gas.unwrap();
    let breaths = json["own_breaths"].as_array().unwrap();
    let number = |breath: &Value, key: &str| breath[key].as_f64().unwrap();
    let above = breaths.iter().filter(|breath| number(breath, "end_tidal_co2_mmhg") > 41.0);
    let above_min: f64 = above.map(|breath| number(breath, "duration_s")).sum::<f64>() / 60.0;
    assert!(above_min > 1.0);
    assert!((gas.end_tidal_co2_above_limit_min - above_min).abs() < 1e-9);
    let spo2 =
        csv.lines().skip(1).map(|row| row.rsplit(',').nth(2).unwrap().parse::<f64>().unwrap());
    let low_min = spo2.filter(|&percent| percent < 95.0).count() as f64 / 50.0 / 60.0;
    assert!(low_min > 1.0, "{low_min}");
    assert!((gas.spo2_below_limit_min - low_min).abs() < 0.01, "{low_min}");
}
