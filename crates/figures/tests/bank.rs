//! Question banks: every question has its one right answer, whatever the order, and
//! nothing that a student sees names it.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::collections::BTreeMap;

use roxmltree::{Document, Node};
use tidewright_figures::{Bank, Handout};
use tidewright_scenario::Scenario;

const LEAK: &str = r#"Scenario(
    format: 1, id: "telltale-leak",
    patient: (species: Cat, weight_kg: 4),
    ventilator: (fresh_gas_flow_l_min: 2, cycling_pressure_cmh2o: 9,
        inspiratory_time_limit_s: 4, expiratory_time_s: 2),
    duration_s: 60,
    timeline: [(at_s: 30, set: Leak(ml_min: 1500, at_cmh2o: 30))],
)"#;
const JUNO: &str = include_str!("../../../scenarios/training/juno-the-loose-joint.ron");
const LESSON: &str = include_str!("../../../scenarios/training/biscuit-settings-from-weight.ron");

fn bank() -> Bank {
    let scenario = |text: &str| -> Scenario { tidewright_scenario::parse("a.ron", text).unwrap() };
    let mut bank = Bank::default();
    assert_eq!(bank.lesson(&scenario(LEAK)), 0);
    assert!(bank.lesson(&scenario(LESSON)) >= 1);
    assert!(bank.cases(&scenario(JUNO)).unwrap() >= 4);
    assert!(bank.handout(&Handout::new(&scenario(LEAK), 3).unwrap()).unwrap() >= 2);
    assert!(bank.signs().unwrap() > 60);
    bank
}

/// What is asked and the text of its right answer, read back from the items.
fn read_back(files: &[(String, Vec<u8>)]) -> BTreeMap<String, String> {
    let mut read = BTreeMap::new();
    for (name, bytes) in files.iter().filter(|file| file.0.ends_with(".xml")) {
        let text = std::str::from_utf8(bytes).unwrap();
        let document = Document::parse(text).unwrap();
        let root = document.root_element();
        if root.tag_name().name() != "assessmentItem" {
            continue;
        }
        assert_eq!(root.tag_name().namespace(), Some("http://www.imsglobal.org/xsd/imsqti_v2p1"));
        let all = |of: &str| -> Vec<Node<'_, '_>> {
            root.descendants().filter(|node| node.tag_name().name() == of).collect()
        };
        let right = all("correctResponse")[0].descendants().find_map(|n| n.text()).unwrap().trim();
        let choices = all("simpleChoice");
        assert!((2..=12).contains(&choices.len()), "{name}");
        let mut texts: Vec<&str> = choices.iter().map(|one| one.text().unwrap()).collect();
        let chosen: Vec<_> =
            choices.iter().filter(|one| one.attribute("identifier") == Some(right)).collect();
        assert_eq!(chosen.len(), 1, "{name}");
        let answer = chosen[0].text().unwrap().to_owned();
        texts.sort_unstable();
        texts.dedup();
        assert_eq!(texts.len(), choices.len(), "{name}: an answer stands twice");
        for picture in all("img") {
            let source = picture.attribute("src").unwrap();
            let png = files.iter().find(|file| file.0 == source);
            assert!(png.unwrap().1.starts_with(b"\x89PNG"), "{source}");
            assert!(!picture.attribute("alt").unwrap().is_empty());
        }
        read.insert(name.clone(), answer);
    }
    read
}

#[test]
fn law_both_papers_have_the_same_right_answers_in_other_places() {
    let bank = bank();
    let [a, b] = ['A', 'B'].map(|letter| bank.paper("Test", 4, letter));
    let read = read_back(&a.qti());
    assert_eq!(read, read_back(&b.qti()));
    assert_eq!(read.len(), a.key().len());
    let sorted = |paper: &tidewright_figures::BankPaper<'_>| {
        let mut key = paper.key();
        key.sort_unstable();
        key
    };
    let (of_a, of_b) = (sorted(&a), sorted(&b));
    let moved = of_a.iter().zip(&of_b).filter(|(a, b)| a.1 != b.1).count();
    assert!(moved > of_a.len() / 3, "{moved} of {}", of_a.len());
    let order = |paper: &tidewright_figures::BankPaper<'_>| -> Vec<String> {
        paper.key().into_iter().map(|one| one.0).collect()
    };
    assert_ne!(order(&a), order(&b));
    assert_eq!(a.gift(), bank.paper("Test", 4, 'A').gift());
}

#[test]
fn law_no_file_and_no_head_names_what_is_asked() {
    let bank = bank();
    let paper = bank.paper("Test", 0, 'A');
    for (name, bytes) in paper.qti().iter().filter(|file| file.0.ends_with(".xml")) {
        assert!(!name.contains("telltale"), "{name}");
        let text = std::str::from_utf8(bytes).unwrap();
        // The reason is for who marks.
        let document = Document::parse(text).unwrap();
        let told = |node: &Node<'_, '_>| {
            node.ancestors().all(|above| above.tag_name().name() != "rubricBlock")
        };
        let seen: String =
            document.descendants().filter(told).filter_map(|node| node.text()).collect();
        assert!(!seen.contains("telltale") && !seen.contains("1500"), "{name}: {seen}");
    }
    let gift = paper.gift();
    let questions = gift.split("\n::").skip(1);
    for question in questions {
        let rights = question.lines().filter(|line| line.starts_with('=')).count();
        assert_eq!(rights, 1, "{question}");
        assert!(!question.trim_end().contains("\n\n"), "an empty line ends a question");
    }
}

#[test]
fn practice_a_leak_lengthens_inspiration_and_leaves_the_peak() {
    // Common practice, no source: the pressure is still reached, only later.
    let bank = bank();
    let paper = bank.paper("Test", 0, 'A');
    let gift = paper.gift();
    let right = |of: &str| {
        let question = gift.split("\n::").find(|one| one.contains(of)).unwrap().to_owned();
        question.lines().find(|line| line.starts_with('=')).unwrap().to_owned()
    };
    assert!(right("to the one after\\: inspiratory time?").starts_with("=It rises#"));
    assert!(right("to the one after\\: peak pressure?").starts_with("=It stays as it is"));
}
