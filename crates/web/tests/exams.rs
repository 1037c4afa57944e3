//! Exams as a page deals, sits and marks them, on the machine of the tests.

use serde_json::{Value, json};
use tidewright_web::Page;

const LESSON: &str = "juno-the-loose-joint";
const PASSPHRASE: &str = "correct horse";

fn ask(page: &mut Page, question: Value) -> Value {
    let answer = page.answer(question.to_string().as_bytes());
    serde_json::from_str(&answer).expect("an answer in JSON")
}

fn dealt(page: &mut Page) -> Value {
    ask(
        page,
        json!({"ask": "deal", "lesson": LESSON, "roster": "pseudonym\nheron-1\nwren-3\n",
            "seed": 4, "passphrase": PASSPHRASE}),
    )
}

fn sit(page: &mut Page, file: &Value, more: Value) -> Value {
    let mut question = json!({"ask": "sit", "file": file["file"], "text": file["text"],
        "passphrase": PASSPHRASE});
    let fields = question.as_object_mut().expect("an object");
    fields.extend(more.as_object().expect("an object").clone());
    ask(page, question)
}

fn marked(page: &mut Page, dealt: &Value, record: &Value) -> Value {
    let marked = json!({"ask": "mark_class", "lesson": LESSON, "files": [["a.ron", record]],
        "key": dealt["key"]["text"], "semicolon": false});
    ask(page, marked)["rows"][0].clone()
}

#[test]
fn an_exam_is_sat_taken_up_and_marked_by_the_key_and_a_change_shows() {
    let mut page = Page::default();
    let dealt = dealt(&mut page);
    let file = &dealt["files"][0];
    let is = json!({"ask": "what_is", "file": file["file"], "text": file["text"]});
    assert_eq!(ask(&mut page, is)["is"], "sealed");
    let begun = sit(&mut page, file, json!({}));
    assert_eq!((&begun["exam"], &begun["title"]), (&json!(1), &json!("Exam")));
    ask(&mut page, json!({"ask": "go"}));
    page.advance(4.0);
    ask(&mut page, json!({"ask": "enter", "line": "listen"}));
    page.advance(8.0);
    let refused = ask(&mut page, json!({"ask": "debrief"}));
    assert!(refused["wrong"]["what"].as_str().is_some_and(|what| what.contains("exam")));
    let kept = ask(&mut page, json!({"ask": "log"}));
    assert_eq!(kept["file"], "exam-heron-1.attempt.ron");
    // The page is closed; another takes the sitting up.
    let mut page = Page::default();
    sit(&mut page, file, json!({"log": kept["log"]}));
    ask(&mut page, json!({"ask": "go"}));
    page.advance(5.0);
    ask(&mut page, json!({"ask": "enter", "line": "reseat"}));
    let record = ask(&mut page, json!({"ask": "log"}))["record"].clone();
    let row = marked(&mut page, &dealt, &record);
    assert_eq!(row["kind"], "exam exam-heron-1, sitting 1, as it was kept", "{row}");
    assert_eq!(row["compared_with_key"], "as dealt");
    assert!(row["points_of"].as_f64().is_some_and(|points| points > 0.0));
    let text = record.as_str().expect("a text");
    assert!(text.contains("interrupted"), "{text}");
    let changed = text.replacen("CheckSupply", "Look", 1).replacen("Listen", "Look", 1);
    assert_ne!(changed, text);
    let row = marked(&mut page, &dealt, &json!(changed));
    assert!(row["kind"].as_str().is_some_and(|kind| kind.contains("CHANGED")), "{row}");
}

/// Nothing that a page gets of an exam is found in the lesson's criteria, answers, cases.
#[test]
fn nothing_on_the_page_of_an_exam_tells_what_marks() {
    let mut page = Page::default();
    let dealt = dealt(&mut page);
    let text = ask(&mut page, json!({"ask": "text", "of": LESSON}))["text"].clone();
    let lesson = tidewright_scenario::parse("a.ron", text.as_str().expect("it")).expect("it");
    let training = lesson.training.expect("a lesson");
    let mut shown = sit(&mut page, &dealt["files"][1], json!({})).to_string();
    ask(&mut page, json!({"ask": "go"}));
    page.advance(20.0);
    for line in ["look", "questions", "help", "hint", "status", "alarms"] {
        shown += &ask(&mut page, json!({"ask": "enter", "line": line})).to_string();
    }
    shown += &ask(&mut page, json!({"ask": "view"})).to_string();
    shown += &ask(&mut page, json!({"ask": "log"})).to_string();
    let says = training.objectives.iter().map(|one| one.says.as_str());
    let says = says.chain(training.pool.iter().map(|case| case.says.as_str()));
    let says = says.chain([training.debrief.why.as_str(), training.debrief.next.as_str()]);
    for say in says.chain([LESSON, "\"right\"", "criteria", "Juno"]) {
        assert!(!shown.contains(say), "{say}");
    }
    assert!(shown.contains("This lesson gives no hints."));
}

#[test]
fn another_passphrase_another_exam_and_what_is_no_exam_are_told() {
    let mut page = Page::default();
    let dealt = dealt(&mut page);
    let [one, other] = [&dealt["files"][0], &dealt["files"][1]];
    let wrong = sit(&mut page, one, json!({"passphrase": "wrong horse"}));
    assert!(wrong["wrong"]["mend"].is_string(), "{wrong}");
    let none = sit(&mut page, &json!({"file": "a.sealed", "text": "Sealed("}), json!({}));
    assert!(none["faults"].is_array(), "{none}");
    sit(&mut page, one, json!({}));
    let log = ask(&mut page, json!({"ask": "log"}))["log"].clone();
    let mixed = sit(&mut page, other, json!({"log": log}));
    assert!(mixed["wrong"]["mend"].is_string(), "{mixed}");
    // Sittings on one machine are counted by the note that the page keeps.
    let note = sit(&mut page, one, json!({}))["sitting"].clone();
    let second = sit(&mut page, one, json!({"sat": [note, "something else", note]}));
    assert_eq!(second["exam"], 3);
    let short = ask(
        &mut page,
        json!({"ask": "deal", "lesson": LESSON, "roster": "pseudonym\na\n", "seed": 1,
            "passphrase": "short"}),
    );
    assert!(short["wrong"]["mend"].is_string());
}
