//! The reports of a run: JSON contract, waveform, table, story, cautions.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::io;

use serde_json::Value;
use tidewright::breath::Breath;
use tidewright_scenario::{DEMO, Scenario, parse, report};

fn demo() -> Scenario {
    parse("demo.ron", DEMO).unwrap()
}

fn variant(changes: &[(&str, &str)]) -> Scenario {
    let mut text = DEMO.to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    parse("variant.ron", &text).unwrap()
}

struct Reports {
    json: String,
    csv: String,
    table: String,
    ending: report::Ending,
}

fn reports(scenario: &Scenario, samples_per_s: f64) -> Reports {
    let (mut json, mut csv) = (Vec::new(), Vec::new());
    let mut table = report::Table::new(scenario);
    let mut json_report = report::JsonReport::begin(&mut json, scenario).unwrap();
    let mut waveform = report::CsvWaveform::begin(&mut csv, scenario, samples_per_s).unwrap();
    let ending = report::run(scenario, |stretch, breath| {
        if let Some(breath) = breath {
            table.take(breath);
            json_report.breath(breath)?;
        }
        waveform.stretch(stretch)
    })
    .unwrap();
    json_report.end(&ending).unwrap();
    waveform.end().unwrap();
    let [json, csv] = [json, csv].map(|bytes| String::from_utf8(bytes).unwrap());
    Reports { json, csv, table: table.to_string(), ending }
}

fn keys(value: &Value) -> Vec<&str> {
    value.as_object().unwrap().keys().map(String::as_str).collect()
}

#[test]
fn the_json_report_has_the_keys_of_the_contract() {
    let Reports { json, .. } = reports(&demo(), 1.0);
    let report: Value = serde_json::from_str(&json).unwrap();
    let expected = [
        "breaths",
        "cautions",
        "criteria",
        "engine",
        "format",
        "model",
        "scenario",
        "story",
        "summary",
        "unfinished",
    ];
    assert_eq!(keys(&report), expected);
    assert_eq!(report["format"], 1);
    assert_eq!(report["engine"], env!("CARGO_PKG_VERSION"));
    assert_eq!(report["model"], tidewright::MODEL_REVISION);
    assert_eq!(report["scenario"], "first-breaths-and-a-leak");
    let expected = [
        "baseline_pressure_cmh2o",
        "end_expiratory_alveolar_pressure_cmh2o",
        "end_expiratory_flow_ml_s",
        "ended_by",
        "expiratory_time_s",
        "expired_at_airway_ml",
        "expired_tidal_volume_ml",
        "inspiratory_time_s",
        "inspired_at_airway_ml",
        "inspired_tidal_volume_ml",
        "leaked_ml",
        "mean_pressure_cmh2o",
        "number",
        "peak_alveolar_pressure_cmh2o",
        "peak_pressure_cmh2o",
        "rate_per_min",
        "start_s",
    ];
    let breaths = report["breaths"].as_array().unwrap();
    assert_eq!(breaths.len() as u64, report["summary"]["breaths"]);
    for (i, breath) in breaths.iter().enumerate() {
        assert_eq!(keys(breath), expected);
        assert_eq!(breath["number"], i as u64 + 1);
    }
    assert_eq!(report["unfinished"]["number"], breaths.len() as u64 + 1);
    assert_eq!(report["summary"]["last_breath"], *breaths.last().unwrap());
}

#[test]
fn json_numbers_read_back_as_the_same_bits() {
    let scenario = demo();
    let Reports { json, .. } = reports(&scenario, 1.0);
    let simulation = tidewright::run::Simulation::new(&scenario.protocol()).unwrap();
    let (breaths, _) = simulation.breaths().unwrap();
    // Not by serde_json, which reads the last bit of a number only approximately.
    let written = |key: &str| -> Vec<u64> {
        let rows = json.lines().filter(|line| line.starts_with("{\"number\""));
        let number = |row: &str| {
            let (_, after) = row.split_once(&format!("\"{key}\":")).unwrap();
            after[..after.find([',', '}']).unwrap()].parse::<f64>().unwrap().to_bits()
        };
        rows.map(number).collect()
    };
    let measured = |of: fn(&Breath) -> f64| -> Vec<u64> {
        breaths.iter().map(|breath| of(breath).to_bits()).collect()
    };
    assert_eq!(written("inspiratory_time_s"), measured(|b| b.inspiratory_time.as_s()));
    assert_eq!(written("leaked_ml"), measured(|b| b.leaked.as_ml()));
    assert_eq!(written("mean_pressure_cmh2o"), measured(|b| b.mean_pressure.as_cmh2o()));
}

#[test]
fn a_run_without_a_breath_is_valid_json_too() {
    let standby = variant(&[("ventilator: (", "ventilator: (mode: Standby,")]);
    let Reports { json, ending, .. } = reports(&standby, 1.0);
    let report: Value = serde_json::from_str(&json).unwrap();
    assert_eq!(report["breaths"], Value::Array(vec![]));
    assert_eq!(report["unfinished"], Value::Null);
    assert_eq!(report["summary"]["last_breath"], Value::Null);
    assert!(ending.story.contains("stands by"), "{}", ending.story);
}

#[test]
fn conserved_gas_in_the_summary_is_flow_times_time() {
    let Reports { ending, .. } = reports(&demo(), 1.0);
    // 2.2 L/min for one minute; the leak takes its share from 30 s on.
    assert!((ending.summary.fresh_gas_used_l - 2.2).abs() < 1e-12);
    let by_breath: f64 = {
        let simulation = tidewright::run::Simulation::new(&demo().protocol()).unwrap();
        simulation.breaths().unwrap().0.iter().map(|breath| breath.leaked.as_ml()).sum()
    };
    assert!(ending.summary.leaked_ml >= by_breath && by_breath > 0.0);
}

#[test]
fn the_waveform_has_a_row_for_each_sample_and_units_in_its_names() {
    let Reports { csv, .. } = reports(&demo(), 50.0);
    let mut lines = csv.lines();
    assert_eq!(
        lines.next().unwrap(),
        "t_s,airway_pressure_cmh2o,airway_flow_ml_s,lung_volume_ml,alveolar_pressure_cmh2o,\
         leak_flow_ml_s,outlet_flow_ml_s,muscle_pressure_cmh2o,pleural_pressure_cmh2o,phase,\
         for_teaching_only_not_a_medical_device"
    );
    let rows: Vec<Vec<&str>> = lines.map(|line| line.split(',').collect()).collect();
    assert_eq!(rows.len(), 60 * 50 + 1);
    for (k, row) in rows.iter().enumerate() {
        assert_eq!((row.len(), row[10]), (11, ""));
        assert_eq!(row[0].parse::<f64>().unwrap(), k as f64 / 50.0);
        assert!(row[1..7].iter().all(|cell| cell.parse::<f64>().unwrap().is_finite()));
        assert_eq!(row[7..9], ["0", "0"], "nobody pulls");
        assert!(matches!(row[9], "inspiration" | "expiration"));
    }
    // The leak is a straight line through the origin: 3000 mL/min at 30 cmH2O.
    let at_31_s = &rows[31 * 50];
    let [pressure, leak] = [at_31_s[1], at_31_s[5]].map(|cell| cell.parse::<f64>().unwrap());
    assert!((leak - pressure * (3000.0 / 60.0) / 30.0).abs() < 1e-12);
}

#[test]
fn a_sampling_rate_that_cannot_be_used_is_refused() {
    for rate in [0.0, -1.0, f64::NAN, f64::INFINITY, 20_000.0] {
        let error = report::CsvWaveform::begin(Vec::new(), &demo(), rate).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::InvalidInput, "{rate}");
        assert!(error.to_string().contains("samples per second"));
    }
}

#[test]
fn a_writer_that_fails_ends_the_run_with_its_error() {
    let full = || io::Error::new(io::ErrorKind::StorageFull, "no space");
    let error = report::run(&demo(), |_, _| Err(full())).unwrap_err();
    assert!(matches!(&error, report::RunError::Write(e) if e.kind() == io::ErrorKind::StorageFull));
}

#[test]
fn regress_the_table_and_the_story_of_the_demo() {
    let Reports { table, ending, .. } = reports(&demo(), 1.0);
    insta::assert_snapshot!("demo", format!("{table}\n{}\n", ending.story));
}

#[test]
fn a_long_table_shows_its_beginning_and_its_end() {
    // A new flow every second or so keeps breaths from looking alike.
    let entries: String = (1..700)
        .map(|i| {
            let flow = 1.0 + f64::from(i % 97) / 100.0;
            format!("(at_s: {i}, set: FreshGasFlow(l_min: {flow})),")
        })
        .collect();
    let scenario = variant(&[
        ("duration_s: 60", "duration_s: 700"),
        ("(at_s: 30, set: Leak(ml_min: 3000, at_cmh2o: 30)),", &entries),
    ]);
    let Reports { table, ending, .. } = reports(&scenario, 1.0);
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines.len(), 2 + 40 + 1 + 10);
    assert!(lines[42].contains("more rows"), "{}", lines[42]);
    let last = lines.last().unwrap().split_whitespace().next().unwrap();
    assert_eq!(last, ending.summary.breaths.to_string());
}

#[test]
fn a_day_of_breaths_is_counted_in_constant_memory() {
    let scenario = variant(&[
        ("duration_s: 60", "duration_s: 86400"),
        ("expiratory_time_s: 2.6", "expiratory_time_s: 0.5"),
    ]);
    let mut breaths = 0;
    let ending = report::run(&scenario, |_, breath| {
        breaths += u64::from(breath.is_some());
        Ok(())
    })
    .unwrap();
    assert_eq!(ending.summary.breaths, breaths);
    assert!(breaths > 25_000, "{breaths}");
}

#[test]
fn stacked_breaths_are_told_where_the_outflow_holds_back_less() {
    let stacked = variant(&[
        ("resistance_cmh2o_s_l: 20.0", "resistance_cmh2o_s_l: 60.0"),
        ("valve_resistance_cmh2o_s_l: 5.0", "valve_resistance_cmh2o_s_l: 20.0"),
        ("set: Leak(ml_min: 3000, at_cmh2o: 30)", "set: ExpiratoryTime(s: 0.36)"),
    ]);
    let story = reports(&stacked, 1.0).ending.story;
    assert!(story.contains("too short for it to empty"), "{story}");
    // A limb alone that holds back: 37 mL/s through 100 cmH2O·s/L are 3.7 cmH2O.
    let narrow = variant(&[
        ("valve_resistance_cmh2o_s_l: 5.0", "valve_resistance_cmh2o_s_l: 100.0"),
        ("expiratory_time_s: 2.6", "expiratory_time_s: 6"),
    ]);
    let story = reports(&narrow, 1.0).ending.story;
    assert!(story.contains("meets resistance on its way out"), "{story}");
    let cuff = variant(&[(
        "Leak(ml_min: 3000, at_cmh2o: 30)",
        "Cuff(seals_to_cmh2o: 6, leak_ml_min: 900)",
    )]);
    let story = reports(&cuff, 1.0).ending.story;
    assert!(story.contains("900 mL/min at 16 cmH2O"), "{story}");
}

#[test]
fn without_fresh_gas_the_story_says_that_only_time_ends_an_inspiration() {
    let none = ("fresh_gas_flow_l_min: 2.2", "fresh_gas_flow_l_min: 0");
    let dry = reports(&variant(&[none]), 1.0).ending;
    assert_eq!(dry.summary.ended_by_time, dry.summary.breaths);
    assert!(dry.story.contains("gets no fresh gas: the time limit ends"), "{}", dry.story);
    let only =
        "No fresh gas comes in, so nothing raises the pressure to 8 cmH2O: the time limit of";
    assert!(dry.story.contains(only), "{}", dry.story);
    let later = variant(&[("Leak(ml_min: 3000, at_cmh2o: 30)", "FreshGasFlow(l_min: 0)")]);
    let later = reports(&later, 1.0).ending.story;
    assert!(later.contains("no longer the pressure") && later.contains(only), "{later}");
    // A cough reaches the cycling pressure without any fresh gas.
    let coughs =
        variant(&[none, ("duration_s:", "faults: [(at_s: 0, fault: Coughing)], duration_s:")]);
    let coughs = reports(&coughs, 1.0).ending;
    assert!(coughs.summary.ended_by_pressure > 0);
    assert!(!coughs.story.contains("No fresh gas comes in"), "{}", coughs.story);
}

#[test]
fn what_a_change_leaves_alone_is_told_once() {
    let change = "Leak(ml_min: 3000, at_cmh2o: 30)";
    let alone = variant(&[(change, "InspiratoryTimeLimit(s: 5)")]);
    let story = reports(&alone, 1.0).ending.story;
    assert!(story.contains("inspiration still lasts 1.19 s, and 42.6 mL"), "{story}");
    assert!(story.contains("come out as before"), "{story}");
    assert!(!story.contains("(before:"), "{story}");
    // A leak at the circuit lengthens inspiration and changes the volume.
    let told = reports(&demo(), 1.0).ending.story;
    assert_eq!(told.matches("(before:").count(), 3, "{told}");
}

#[test]
fn the_general_caution_comes_first_and_others_with_their_reason() {
    let quiet = reports(&demo(), 1.0).ending.cautions;
    assert_eq!(quiet[..2], [report::BANNER, report::MODEL_LIMITS]);
    assert_eq!(quiet.len(), 2, "{quiet:?}");
    let heavy = variant(&[
        ("weight_kg: 4.5", "weight_kg: 40"),
        ("compliance_ml_cmh2o: 6.0,   // 1.33 for each kg", ""),
        ("resistance_cmh2o_s_l: 20.0, // tube and airway", ""),
        ("lung: (", "/*"),
        ("        ),\n    ),\n    circuit", "*/\n    ),\n    circuit"),
    ]);
    let cautions = reports(&heavy, 1.0).ending.cautions;
    assert!(cautions[2].starts_with("40 kg is an unusual weight: a cat usually has"));
    let loud = variant(&[
        ("cycling_pressure_cmh2o: 8", "cycling_pressure_cmh2o: 30"),
        ("inspiratory_time_limit_s: 1.8", "inspiratory_time_limit_s: 9"),
    ]);
    let cautions = reports(&loud, 1.0).ending.cautions;
    assert_eq!(cautions.len(), 6, "{cautions:?}");
    // 2.2 L/min × 9 s / 4.5 kg
    assert!(cautions[2].contains("let 73.3 mL/kg into"), "{}", cautions[2]);
    assert!(cautions[3].contains("lasts longer than expiration"), "{}", cautions[3]);
    assert!(cautions[4].contains("mL/kg") && cautions[5].contains("30 cmH2O"));
}

#[test]
fn settings_that_look_mistyped_are_cautioned_of() {
    let told = |change: (&str, &str), what: &str| {
        let cautions = reports(&variant(&[change]), 1.0).ending.cautions;
        assert!(cautions.iter().any(|caution| caution.contains(what)), "{what}: {cautions:?}");
    };
    let idle = "the time limit of 1.8 s is more than twice as long as an inspiration";
    told(("cycling_pressure_cmh2o: 8", "cycling_pressure_cmh2o: 4"), idle);
    told(("weight_kg: 4.5", "weight_kg: 450"), "every number for each kg goes by it");
    let high = "The cycling pressure is set to 90 cmH2O";
    told(("cycling_pressure_cmh2o: 8", "cycling_pressure_cmh2o: 90"), high);
    told(("compliance_ml_cmh2o: 6.0", "compliance_ml_cmh2o: 0.6"), "they do not ventilate");
    let text = include_str!("../../../scenarios/training/juno-the-loose-joint.ron");
    let lesson = reports(&parse("juno.ron", text).unwrap(), 1.0).ending.cautions;
    assert!(lesson.iter().any(|caution| caution.contains("This is a lesson")), "{lesson:?}");
}
