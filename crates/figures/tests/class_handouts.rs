//! Handouts of a class: a patient for each student, the same lesson for all.

#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;
use std::fs;

use tidewright_figures::{Bank, Handout, OwnQuestion, Paper, Sheets, Test};
use tidewright_scenario::Scenario;

fn scenarios() -> Vec<Scenario> {
    let folder = format!("{}/../../scenarios", env!("CARGO_MANIFEST_DIR"));
    let paths = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let files = paths.filter(|path| path.extension().is_some_and(|ending| ending == "ron"));
    files
        .map(|path| {
            tidewright_scenario::parse("s.ron", &fs::read_to_string(path).unwrap()).unwrap()
        })
        .collect()
}

/// Arrows of the answer table, in their order.
fn arrows(page: &str) -> Vec<char> {
    let cells = page.split("<td>").skip(1).filter_map(|cell| cell.chars().next());
    cells.filter(|c| "↑↓=".contains(*c)).collect()
}

#[test]
fn every_scenario_has_a_patient_for_each_of_a_class_and_keeps_its_lesson() {
    for scenario in scenarios() {
        let answers = |seed| {
            let handout = Handout::new(&scenario, seed).unwrap().of("owl-3");
            Handout::html(&[handout], Sheets::Answers, Paper::A4)
        };
        let own = arrows(&answers(0));
        let mut pages = BTreeSet::new();
        for seed in 1..=12 {
            let page = answers(seed);
            let opposite = |(a, b): (&char, &char)| a != b && *a != '=' && *b != '=';
            assert!(!own.iter().zip(&arrows(&page)).any(opposite), "{} {seed}", scenario.id);
            pages.insert(page);
        }
        assert_eq!(pages.len(), 12, "{}", scenario.id);
    }
}

#[test]
fn a_student_gets_no_answer_and_the_educator_gets_a_key() {
    let scenario = scenarios().into_iter().find(|s| s.id.as_str() == "stiff-lung-normal-peak");
    let scenario = scenario.unwrap();
    let dealt = [("owl-3", 11), ("fox-1", 12)];
    let handouts = dealt.map(|(name, seed)| Handout::new(&scenario, seed).unwrap().of(name));
    let work = Handout::html(&handouts[..1], Sheets::Work, Paper::A4);
    assert!(work.contains("owl-3") && !work.contains("fox-1") && work.contains("Seed 11"));
    assert!(!work.contains('→') && !work.contains(scenario.title.as_deref().unwrap()));
    let answers = Handout::html(&handouts, Sheets::Answers, Paper::A4);
    let (key, sheets) = answers.split_once("<section class=\"sheet answers\">").unwrap();
    for name in ["owl-3", "fox-1"] {
        assert!(key.contains(name) && sheets.contains(name), "{name}");
    }
    assert!(key.contains("↓ ") && !answers.contains("Predict"));
    for page in [&work, &answers] {
        for svg in page.split("<svg").skip(1) {
            let svg = format!("<svg{}</svg>", svg.split("</svg>").next().unwrap());
            let document = roxmltree::Document::parse(&svg).unwrap();
            let first = document.root_element().children().filter(|node| node.is_element());
            let names: Vec<&str> = first.take(2).map(|node| node.tag_name().name()).collect();
            assert_eq!(names, ["title", "desc"]);
        }
    }
    let mut ids: Vec<&str> =
        answers.split(" id=\"").skip(1).filter_map(|p| p.split('"').next()).collect();
    let count = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), count);
}

#[test]
fn the_pdf_holds_the_same_sheets_each_time() {
    let scenario = &scenarios()[0];
    let handout = [Handout::new(scenario, 3).unwrap().of("owl-3")];
    for paper in [Paper::A4, Paper::Letter, Paper::A5, Paper::A3, Paper::Tabloid] {
        let pdf = Handout::pdf(&handout, Sheets::Both, paper).unwrap();
        assert!(pdf == Handout::pdf(&handout, Sheets::Both, paper).unwrap());
        let holds = |words: &str| pdf.windows(words.len()).any(|w| w == words.as_bytes());
        for part in ["/S/H1", "/S/H2", "/S/Table", "/S/TH", "/S/TD", "/S/Figure", "/Outlines"] {
            assert!(holds(part), "{part}");
        }
        assert!(!holds("/CreationDate"));
    }
}

#[test]
fn a_test_stands_in_the_place_of_the_questions_and_its_key_on_the_answers_alone() {
    let lesson = include_str!("../../../scenarios/training/biscuit-settings-from-weight.ron");
    let lesson = tidewright_scenario::parse("a.ron", lesson).unwrap();
    let mut bank = Bank::default();
    assert!(bank.lesson(&lesson) > 0);
    let own = OwnQuestion::parse("3 | What ends <each> breath?").unwrap();
    assert_eq!(OwnQuestion::parse("what ends each breath?"), None);
    assert_eq!(OwnQuestion::parse("0 | what?"), None);
    let of = |letter| {
        let test = Test { letter: Some(letter), own: vec![own.clone()], choices: Vec::new() };
        let test = test.with_choices(&bank.paper("", 0, letter));
        [Handout::new(&lesson, 0).unwrap().asking(test)]
    };
    let work = Handout::html(&of('A'), Sheets::Work, Paper::A4);
    assert!(work.contains("1. What ends &lt;each&gt; breath? [3]"), "{work}");
    assert!(work.contains("Paper A, ") && work.contains("<p>A   "), "{work}");
    assert!(!work.contains("Right answers"));
    let answers = |letter| Handout::html(&of(letter), Sheets::Answers, Paper::A4);
    assert!(answers('A').contains("Right answers of paper A: 2 "));
    assert_ne!(answers('A').replace("paper A", "paper B"), answers('B'));
    for paper in [Paper::A5, Paper::Tabloid] {
        assert!(Handout::pdf(&of('B'), Sheets::Both, paper).unwrap().starts_with(b"%PDF"));
    }
}
