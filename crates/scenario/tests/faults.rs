//! Faults that a file names, and instruments between truth and reader.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright::fault::{self, with_faults};
use tidewright::quantity::Seconds;
use tidewright_scenario::format::{FaultKind, Onset, Severity};
use tidewright_scenario::{DEMO, Scenario, parse, report};

fn with(extra: &str) -> Scenario {
    parse("demo.ron", &DEMO.replace("timeline:", &format!("{extra} timeline:"))).unwrap()
}

/// Every fault of the engine as a file writes it, with a severity where it has one.
fn written(fault: fault::Fault, severity: f64) -> String {
    let word: String = fault
        .name()
        .split('-')
        .flat_map(|part| {
            let (first, rest) = part.split_at(1);
            [first.to_uppercase(), rest.to_owned()]
        })
        .collect();
    if fault.is_switch() { word } else { format!("{word}(severity: {severity})") }
}

#[test]
fn twin_a_file_with_faults_runs_what_the_engine_makes_of_them() {
    let own = with("").protocol();
    for &fault in fault::Fault::ALL {
        let scenario = with(&format!(
            "faults: [(at_s: 21.25, onset: Ramp(s: 7), until_s: 40.5, fault: {}), (at_s: 30, fault: WaterInLimb(severity: 0.1))],",
            written(fault, 0.6)
        ));
        let timed = fault::TimedFault {
            fault,
            severity: if fault.is_switch() { 1.0 } else { 0.6 },
            onset_at: Seconds::s(21.25),
            over: Seconds::s(7.0),
            until: Some(Seconds::s(40.5)),
        };
        let water = fault::TimedFault::step(fault::Fault::WaterInLimb, 0.1, Seconds::s(30.0));
        let protocol = scenario.protocol();
        assert_eq!(protocol, with_faults(&own, &[timed, water]), "{fault}");
        assert_eq!(scenario.protocol_without_faults(), own, "{fault}");
        // At the exact time, not at the next breath or sample.
        assert!(protocol.changes.iter().any(|change| change.at == Seconds::s(21.25)), "{fault}");
        for (name, text) in [("a.ron", scenario.to_ron()), ("a.json", scenario.to_json())] {
            assert_eq!(parse(name, &text).unwrap(), scenario, "{fault}");
        }
    }
}

#[test]
fn a_word_alone_is_the_whole_fault_in_both_dialects() {
    let whole = FaultKind::KinkedTube(Severity { severity: 1.0 });
    for fault in ["KinkedTube", "KinkedTube()", "KinkedTube(severity: 1)"] {
        let scenario = with(&format!("faults: [(at_s: 5, fault: {fault})],"));
        assert_eq!(scenario.faults[0].fault, whole, "{fault}");
        assert_eq!(scenario.faults[0].onset, Onset::Step);
    }
    let json = with("faults: [(at_s: 5, fault: KinkedTube)],").to_json();
    let alone = json.replace(
        r#"{
        "KinkedTube": {
          "severity": 1.0
        }
      }"#,
        r#""KinkedTube""#,
    );
    assert_ne!(alone, json);
    assert_eq!(parse("a.json", &alone).unwrap().faults[0].fault, whole);
}

#[test]
fn every_fault_has_words_for_its_coming_and_its_end() {
    for &fault in fault::Fault::ALL {
        for severity in [0.05, 0.5, 1.0] {
            let scenario = with(&format!(
                "faults: [(at_s: 5, until_s: 9, fault: {})],",
                written(fault, severity)
            ));
            let told: Vec<_> =
                report::happenings(&scenario).into_iter().filter(|h| h.at_s < 10.0).collect();
            let times: Vec<f64> = told.iter().map(|happening| happening.at_s).collect();
            assert_eq!(times, [5.0, 9.0], "{fault}");
            for happening in told {
                let (label, sentence) = (&happening.label, &happening.sentence);
                assert!((8..=52).contains(&label.chars().count()), "{fault}: {label}");
                assert!(sentence.chars().count() > label.chars().count(), "{fault}: {sentence}");
                assert!(!sentence.contains("NaN") && !sentence.ends_with('.'), "{sentence}");
            }
        }
    }
}

#[test]
fn the_story_tells_of_a_fault_as_of_any_change() {
    let scenario = with("faults: [(at_s: 12, fault: SenseLineOff)],");
    let story = report::run(&scenario, |_, _| Ok(())).unwrap().story;
    assert!(story.contains("At 12 s the pressure sensing line comes off: inspiration"), "{story}");
    assert!(story.contains("the sensor did not tell it"), "{story}");
}

#[test]
fn a_cough_is_not_taken_for_a_shut_tube() {
    let story = |extra: &str| {
        let small = with(extra).to_ron().replace("pressure_cmh2o: 8.0", "pressure_cmh2o: 0.8");
        report::run(&parse("a.ron", &small).unwrap(), |_, _| Ok(())).unwrap().story
    };
    let (still, coughs) = (story(""), story("faults: [(at_s: 0, fault: Coughing)],"));
    assert!(still.contains("the way to the lung is shut"), "{still}");
    assert!(coughs.contains("own muscles share in the breath"), "{coughs}");
    let shut = with("faults: [(at_s: 12, fault: KinkedTube)],");
    let story = report::run(&shut, |_, _| Ok(())).unwrap().story;
    assert!(story.contains("the way to the lung is shut"), "{story}");
}

fn columns(scenario: &Scenario, rate: f64) -> (Vec<String>, Vec<Vec<f64>>) {
    let mut text = Vec::new();
    let mut csv = report::CsvWaveform::begin(&mut text, scenario, rate).unwrap();
    report::run(scenario, |stretch, _| csv.stretch(stretch)).unwrap();
    csv.end().unwrap();
    let text = String::from_utf8(text).unwrap();
    let mut lines = text.lines();
    let header: Vec<String> = lines.next().unwrap().split(',').map(str::to_owned).collect();
    let number = |cell: &str| cell.parse().unwrap_or(0.0);
    let rows = lines.map(|line| line.split(',').map(number).collect()).collect();
    (header, rows)
}

fn column(table: &(Vec<String>, Vec<Vec<f64>>), name: &str) -> Vec<f64> {
    let index = table.0.iter().position(|known| known == name).unwrap();
    table.1.iter().map(|row| row[index]).collect()
}

#[test]
fn what_instruments_show_stands_beside_a_truth_that_they_leave_alone() {
    let (plain, off) = (
        columns(&with(""), 20.0),
        columns(
            &with("instruments: (gauge: (offset_cmh2o: 1.5), spirometer: (at: Machine)),"),
            20.0,
        ),
    );
    assert!(!plain.0.iter().any(|name| name.starts_with("shown_")));
    for name in &plain.0[..7] {
        assert_eq!(column(&plain, name), column(&off, name), "{name}");
    }
    let pairs =
        column(&off, "airway_pressure_cmh2o").into_iter().zip(column(&off, "shown_pressure_cmh2o"));
    for (truth, shown) in pairs {
        assert!((shown - truth - 1.5).abs() < 1e-12, "{shown} beside {truth}");
    }
    // With the valve shut all fresh gas, 2.2 L/min, counts as the patient's.
    let shown = column(&off, "shown_flow_ml_s");
    let inspired =
        shown.iter().zip(column(&off, "outlet_flow_ml_s")).filter(|(_, out)| *out == 0.0);
    for (shown, _) in inspired {
        assert!((shown - 2200.0 / 60.0).abs() < 1e-9, "{shown}");
    }
}

#[test]
fn noise_follows_the_seed_and_readings_do_not_follow_the_rows() {
    let noisy = |seed: u32| {
        with(&format!(
            "instruments: (readings_per_s: 10, seed: {seed}, gauge: (noise_cmh2o: 0.3)),"
        ))
    };
    let shown = |seed, rate| column(&columns(&noisy(seed), rate), "shown_pressure_cmh2o");
    assert_eq!(shown(4, 10.0), shown(4, 10.0));
    assert_ne!(shown(4, 10.0), shown(5, 10.0));
    let (coarse, fine) = (shown(4, 10.0), shown(4, 40.0));
    for (k, reading) in coarse.iter().enumerate() {
        // Between two readings the one before goes on being shown.
        let held = fine[4 * k..].iter().take(4);
        assert!(held.into_iter().all(|shown| shown == reading), "reading {k}");
    }
}
