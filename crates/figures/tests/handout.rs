//! Handouts: what stands on which sheet, and what a seed changes.

#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;
use std::fs;

use tidewright_figures::{DrawFileError, Handout, Paper, Sheets};
use tidewright_scenario::{Scenario, report};

fn scenario(name: &str) -> Scenario {
    let path = format!("{}/../../scenarios/{name}.ron", env!("CARGO_MANIFEST_DIR"));
    tidewright_scenario::parse(name, &fs::read_to_string(path).unwrap()).unwrap()
}

fn handout(scenario: &Scenario, paper: Paper, seed: u64) -> Result<String, DrawFileError> {
    Ok(Handout::html(&[Handout::new(scenario, seed)?], Sheets::Both, paper))
}

#[test]
fn answers_stand_on_the_answer_sheet_alone() {
    let scenario = scenario("stiff-lung-normal-peak");
    let page = handout(&scenario, Paper::A4, 0).unwrap();
    let (work, answers) = page.split_once("<h1>Answers").unwrap();
    for hidden in [scenario.title.as_deref().unwrap(), scenario.teaches.as_deref().unwrap()] {
        assert!(!work.contains(hidden) && answers.contains(hidden), "{hidden}");
    }
    assert!(!work.contains("→") && !work.contains("lung 5 mL"));
    // Half the compliance: about half the volume in half the time, at the same peak.
    assert!(answers.contains("↓ 1.26 → 0.652"), "{answers}");
    assert!(answers.contains("↓ 81.4 → 40.9") || answers.contains("↓ 81.5 → 40.9"), "{answers}");
    assert!(answers.contains("= 9 → 9"));
    assert!(page.contains("Not a medical device"));
    let mut ids: Vec<&str> =
        page.split(" id=\"").skip(1).filter_map(|p| p.split('"').next()).collect();
    let count = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), count);
}

#[test]
fn every_sheet_says_the_caution_once() {
    let page = handout(&scenario("stiff-lung-normal-peak"), Paper::A4, 0).unwrap();
    let sheets: Vec<usize> = page
        .split("<section")
        .skip(1)
        .map(|sheet| sheet.matches("For teaching only").count())
        .collect();
    assert_eq!(sheets, [1, 1, 1]);
    assert!(!page.contains("-footer"));
}

#[test]
fn letter_speaks_of_a_veterinarian() {
    let scenario = scenario("stiff-lung-normal-peak");
    let page = |paper| handout(&scenario, paper, 0).unwrap();
    let (a4, letter) = (page(Paper::A4), page(Paper::Letter));
    assert!(a4.contains("veterinary surgeon") && !a4.contains("veterinarian"));
    assert!(letter.contains("veterinarian") && !letter.contains("veterinary surgeon"));
}

#[test]
fn a_seed_makes_another_patient_and_always_the_same_one() {
    let scenario = scenario("stiff-lung-normal-peak");
    let page = |seed| handout(&scenario, Paper::Letter, seed).unwrap();
    assert_eq!(page(7), page(7));
    let answers = |seed| page(seed).split_once("<h1>Answers").unwrap().1.to_owned();
    assert_ne!(answers(7), answers(8));
    assert!(page(7).contains("size: letter") && page(7).contains("Seed 7"));
}

#[test]
fn what_is_as_in_the_scenario_is_no_difference() {
    let scenario = scenario("baseline-tells-kink-from-blocked-limb");
    let mut left_out = 0;
    for seed in 1..=20 {
        let page = handout(&scenario, Paper::A4, seed).unwrap();
        let (_, told) = page.split_once("Against the scenario: ").unwrap();
        let told = told.split_once(".<").unwrap().0;
        let factors: Vec<&str> =
            told.split(", ").filter_map(|one| Some(one.split_once("× ")?.1)).collect();
        assert!(factors.iter().all(|factor| *factor != "1"), "seed {seed}: {told}");
        left_out += 2 - factors.len();
    }
    assert!(left_out > 0, "no seed leaves compliance or resistance as it is");
}

fn names() -> Vec<String> {
    let folder = format!("{}/../../scenarios", env!("CARGO_MANIFEST_DIR"));
    let paths = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let files = paths.filter(|path| path.extension().is_some_and(|ending| ending == "ron"));
    files.map(|path| path.file_stem().unwrap().to_string_lossy().into_owned()).collect()
}

#[test]
fn a_students_pages_name_neither_the_scenario_nor_what_no_hand_turned() {
    let mut acts = BTreeSet::new();
    for name in names() {
        let scenario = scenario(&name);
        let page = handout(&scenario, Paper::A4, 0).unwrap();
        let (work, answers) = page.split_once("<h1>Answers").unwrap();
        assert!(!work.contains(scenario.id.as_str()), "{name}");
        for one in report::happenings(&scenario).iter().filter(|one| one.at_s > 0.0) {
            let row = format!("s: {}<", one.label.replace("cmH2O", "cmH₂O"));
            assert!(one.by_hand || !work.contains(&row), "{name}: {row}");
        }
        acts.insert(
            answers.split("<li>Act:").nth(1).unwrap().split("</li>").next().unwrap().to_owned(),
        );
    }
    assert!(acts.len() > 6, "what is to be done is all the same: {acts:?}");
}

#[test]
fn a_lesson_in_which_nothing_changes_is_asked_of_its_breath() {
    let page = handout(&scenario("training/juno-the-loose-joint"), Paper::A4, 0).unwrap();
    let (work, answers) = page.split_once("<h1>Answers").unwrap();
    assert!(!work.contains("before and after") && !work.contains("Predict"), "{work}");
    assert!(answers.contains("<li>Describe: inspiratory time 1.47 s"), "{answers}");
}

#[test]
fn every_scenario_has_a_handout() {
    for name in names() {
        let scenario = scenario(&name);
        let page = handout(&scenario, Paper::A4, 0).unwrap();
        // Curves for both sheets, and the drawing of a circuit put together from parts.
        let figures = 2 + usize::from(scenario.assembly.is_some());
        assert_eq!(page.matches("<svg").count(), figures, "{name}");
    }
}
