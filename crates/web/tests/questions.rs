//! Questions as a page puts them, on the machine of the tests.

use serde_json::{Value, json};
use tidewright_web::{Page, Passed};

fn ask(page: &mut Page, question: Value) -> Value {
    let answer = page.answer(question.to_string().as_bytes());
    serde_json::from_str(&answer).expect("an answer in JSON")
}

#[test]
fn a_lesson_is_practised_kept_taken_up_and_marked() {
    let mut page = Page::default();
    let begun = ask(&mut page, json!({"ask": "begin", "lesson": "juno", "seed": 7}));
    assert_eq!(begun["curves"].as_array().map(Vec::len), Some(3));
    assert!(begun["acts"].as_array().is_some_and(|acts| acts.len() > 5));
    assert_eq!(page.advance(1.0), Passed::Nothing, "the clock is not started");
    ask(&mut page, json!({"ask": "go"}));
    assert_eq!(page.advance(2.0), Passed::Time);
    let done = ask(&mut page, json!({"ask": "enter", "line": "listen"}));
    assert_eq!(done["reply"], "done");
    let refused = ask(&mut page, json!({"ask": "enter", "line": "flow 5000"}));
    assert_eq!(refused["reply"], "refused");
    let mut points = Vec::new();
    page.points(&mut points);
    assert_eq!(points[..3], [2.0, 12.0, 3.0]);
    assert!(points.len() > 3 + 3 * 2 * 45);
    let kept = ask(&mut page, json!({"ask": "log"}));
    let mut again = Page::default();
    ask(&mut again, json!({"ask": "begin", "lesson": "juno", "seed": 0, "log": kept["log"]}));
    for page in [&mut page, &mut again] {
        ask(page, json!({"ask": "go"}));
        assert_ne!(page.advance(30.3), Passed::Nothing);
    }
    let logs = [&mut page, &mut again].map(|page| ask(page, json!({"ask": "log"})));
    assert_eq!(logs[0], logs[1]);
    let debriefs = [&mut page, &mut again].map(|page| ask(page, json!({"ask": "debrief"})));
    assert_eq!(debriefs[0], debriefs[1]);
    let marked = json!({"ask": "mark", "lesson": "juno", "log": logs[0]["record"]});
    assert_eq!(ask(&mut page, marked), debriefs[0]);
}

#[test]
fn one_breath_goes_on_by_a_breath_and_a_prediction_stops_the_clock() {
    let mut page = Page::default();
    for lesson in &tidewright_shelf::LESSONS {
        ask(&mut page, json!({"ask": "begin", "lesson": lesson.id, "seed": 3}));
        let mut last_s = 0.0;
        for _ in 0..4 {
            let seen = ask(&mut page, json!({"ask": "next_breath"}));
            let now_s = seen["view"]["now_s"].as_f64().expect("a time");
            let waits = &seen["view"]["waits_for"];
            assert!(now_s > last_s || !waits.is_null(), "{}: {seen}", lesson.id);
            if let Some(id) = waits["id"].as_str() {
                let line = format!("predict {id} up");
                let done = ask(&mut page, json!({"ask": "enter", "line": line}));
                assert_eq!(done["reply"], "done", "{}", lesson.id);
            }
            last_s = now_s;
        }
    }
}

#[test]
fn hostile_questions_are_told_and_harm_nothing() {
    let mut page = Page::default();
    for question in ["", "{", "null", "[]", "{\"ask\": 3}", "{\"ask\": \"nothing\"}", "\u{0}"] {
        let answer: Value = serde_json::from_str(&page.answer(question.as_bytes())).expect("JSON");
        assert!(answer["wrong"]["mend"].is_string(), "{question:?}");
    }
    let not_text = page.answer(&[0xff, 0xfe]);
    assert!(not_text.contains("wrong"));
    for question in [
        json!({"ask": "view"}),
        json!({"ask": "enter", "line": "look"}),
        json!({"ask": "begin", "lesson": "nobody", "seed": 1}),
        json!({"ask": "begin", "lesson": "juno", "seed": 1, "name": "A Name"}),
        json!({"ask": "begin", "lesson": {"file": "a.ron", "text": "Scenario("}, "seed": 1}),
        json!({"ask": "begin", "lesson": "juno", "seed": 1, "log": "Attempt("}),
        json!({"ask": "figure", "of": "nothing", "kind": "svg"}),
        json!({"ask": "figure", "of": "one-breath", "kind": "html"}),
        json!({"ask": "figure", "of": "one-breath", "kind": "png", "dpi": 1e9}),
        json!({"ask": "species", "species": "cat", "weight_kg": -1}),
        json!({"ask": "explain", "word": "nothing"}),
        json!({"ask": "deal", "lesson": "juno", "roster": "name\nAnna\n", "seed": 1}),
    ] {
        let answer = ask(&mut page, question.clone());
        let faults = answer["faults"].as_array().is_some_and(|faults| !faults.is_empty());
        assert!(answer["wrong"]["mend"].is_string() || faults, "{question}: {answer}");
    }
    let taken = ask(&mut page, json!({"ask": "begin", "lesson": "juno", "seed": 1}));
    assert!(taken["title"].is_string());
}

#[test]
fn a_text_with_faults_has_each_at_its_place() {
    let mut page = Page::default();
    let text =
        "Scenario(format: 1, id: \"a\",\n  patient: (species: Cat, weight_kg: -4),\n  vent: 3)";
    let answer = ask(&mut page, json!({"ask": "faults", "file": "a.ron", "text": text}));
    let faults = answer["faults"].as_array().expect("faults");
    assert!(faults.len() >= 2);
    let weight = faults.iter().find(|fault| fault["line"] == 2).expect("the weight");
    let at = |end: &str| weight[end].as_u64().expect("a place") as usize;
    assert_eq!(&text[at("start")..at("end")], "-4");
}
