use serde_json::{Value, json};

use crate::Page;

fn ask(question: Value) -> Value {
    let answer = Page::default().answer(question.to_string().as_bytes());
    serde_json::from_str(&answer).expect("an answer in JSON")
}

fn state(more: Value) -> Value {
    let mut state = json!({"base": "first-breaths-and-a-leak"});
    for (name, value) in more.as_object().expect("fields") {
        state[name] = value.clone();
    }
    state
}

fn number(answer: &Value, which: &str, name: &str) -> f64 {
    let numbers = answer[which]["numbers"].as_array().expect("numbers");
    let found = numbers.iter().find(|one| one["name"] == name).expect("that number");
    found["number"].as_f64().expect("a number")
}

/// VT = flow × TI, less what the circuit takes, which is a fortieth here.
#[test]
fn closed_form_more_flow_makes_shorter_inspirations_of_about_as_much() {
    let answer = ask(json!({
        "ask": "explore", "before": state(json!({})), "now": state(json!({"set": {"flow": 4.4}})),
    }));
    let times = |name| number(&answer, "now", name) / number(&answer, "before", name);
    assert!((0.4..0.5).contains(&times("inspiratory time")), "{answer}");
    assert!((0.85..1.0).contains(&times("tidal volume out")));
    for (which, l_min) in [("before", 2.2), ("now", 4.4)] {
        let volume = l_min / 0.06 * number(&answer, which, "inspiratory time");
        let share = number(&answer, which, "tidal volume out") / volume;
        assert!((0.95..1.0).contains(&share), "{which}: {share}");
    }
}

#[test]
fn curves_begin_with_an_inspiration_and_last_as_long_before_and_now() {
    let now = state(json!({"set": {"expiration": 1.0}}));
    let answer = ask(json!({"ask": "explore", "before": state(json!({})), "now": now}));
    let window_s = answer["window_s"].as_f64().expect("a time");
    for which in ["before", "now"] {
        let curves = answer[which]["curves"].as_array().expect("curves");
        assert_eq!(curves.len(), 3);
        for curve in curves {
            let points = curve["points"].as_array().expect("points");
            let t = |point: &Value| point[0].as_f64().expect("a time");
            assert_eq!(t(&points[0]), 0.0, "{which} {}", curve["name"]);
            assert!((t(points.last().expect("points")) - window_s).abs() < 1e-9);
            assert!(points.len() > 300);
        }
        let flow = &curves[1]["points"];
        assert!(flow[5][1].as_f64().expect("a flow") > 0.0, "gas goes in first");
    }
}

#[test]
fn every_fault_at_any_severity_and_gas_are_shown_or_told() {
    for fault in tidewright::fault::Fault::ALL {
        for percent in [5.0, 100.0] {
            let now = state(json!({"fault": fault.name(), "severity_percent": percent}));
            let answer = ask(json!({"ask": "explore", "before": state(json!({})), "now": now}));
            assert!(answer["now"]["numbers"].is_array(), "{fault} {percent}: {answer}");
        }
    }
    let gas = state(json!({"gas": true}));
    let answer = ask(json!({"ask": "explore", "before": gas, "now": gas}));
    assert!(number(&answer, "now", "EtCO2") > 20.0);
}

#[test]
fn what_cannot_be_is_told_with_a_mend_and_what_is_explored_becomes_a_file() {
    for wrong in [
        json!({"set": {"pressure": -3.0}}),
        json!({"set": {"pressure": 1e9}}),
        json!({"set": {"nothing": 1.0}}),
        json!({"fault": "nothing"}),
        json!({"base": "nothing"}),
    ] {
        let answer =
            ask(json!({"ask": "explore", "before": state(json!({})), "now": state(wrong)}));
        assert!(answer["wrong"]["mend"].is_string() || answer["faults"][0]["mend"].is_string());
    }
    let now =
        state(json!({"set": {"leak": 900.0}, "fault": "kinked-tube", "severity_percent": 60.0}));
    let saved = ask(json!({"ask": "explore_scenario", "now": now, "id": "my-breath"}));
    assert_eq!(saved["file"], "my-breath.ron");
    let scenario =
        tidewright_scenario::parse("my-breath.ron", saved["text"].as_str().expect("a text"));
    let scenario = scenario.expect("a scenario");
    assert_eq!(scenario.circuit.leak.map(|leak| leak.ml_min), Some(900.0));
    assert_eq!(scenario.faults.len(), 1);
    let bad = ask(json!({"ask": "explore_scenario", "now": now, "id": "My Breath!"}));
    assert!(bad["wrong"]["mend"].is_string());
}
