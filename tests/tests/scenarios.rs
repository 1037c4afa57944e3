//! Every file in `scenarios/` is valid, runs, and means what its comments say.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::path::{Path, PathBuf};

use tidewright::breath::{Breath, EndedBy};
use tidewright_scenario::{Scenario, parse_bytes, report};

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios");
    let entries = std::fs::read_dir(folder).unwrap();
    let mut files: Vec<PathBuf> =
        entries.map(|entry| entry.unwrap().path()).filter(|path| path.is_file()).collect();
    files.sort();
    files
}

fn read(path: &Path) -> (String, Scenario) {
    let name = path.file_name().unwrap().to_str().unwrap();
    let bytes = std::fs::read(path).unwrap();
    let scenario = parse_bytes(name, &bytes).unwrap_or_else(|rejected| {
        let fault = &rejected.faults()[0];
        panic!("{rejected}: line {}: {fault}", rejected.place(fault).line)
    });
    (String::from_utf8(bytes).unwrap(), scenario)
}

fn breaths(scenario: &Scenario) -> (Vec<Breath>, report::Ending) {
    let mut breaths = Vec::new();
    let ending = report::run(scenario, |_, breath| {
        breaths.extend(breath);
        Ok(())
    });
    (breaths, ending.unwrap())
}

#[test]
fn every_scenario_is_named_after_its_file_and_says_what_it_teaches() {
    assert!(files().len() >= 9);
    for path in files() {
        let (_, scenario) = read(&path);
        assert_eq!(path.extension().unwrap(), "ron");
        assert_eq!(path.file_stem().unwrap().to_str().unwrap(), scenario.id.as_str());
        assert!(scenario.title.is_some() && scenario.teaches.is_some() && scenario.story.is_some());
    }
}

#[test]
fn every_scenario_written_back_is_the_same() {
    for path in files() {
        let (_, scenario) = read(&path);
        for (name, text) in [("x.ron", scenario.to_ron()), ("x.json", scenario.to_json())] {
            assert_eq!(parse_bytes(name, text.as_bytes()).unwrap(), scenario);
        }
    }
}

#[test]
fn every_scenario_runs_to_its_end() {
    for path in files() {
        let (_, scenario) = read(&path);
        let (breaths, ending) = breaths(&scenario);
        let finished_s: f64 =
            breaths.iter().map(|b| (b.inspiratory_time + b.expiratory_time).as_s()).sum();
        let under_way_s = ending.unfinished.map_or(0.0, |breath| breath.elapsed.as_s());
        assert!(
            (finished_s + under_way_s - scenario.duration_s).abs() < 1e-9,
            "{}",
            path.display()
        );
        assert_eq!(ending.summary.breaths, breaths.len() as u64);
    }
}

/// `breath 5: inspiratory time 1.37 s, ended by pressure` in a comment is
/// compared with the run, to the digits that are written.
#[test]
fn every_answer_in_the_comments_is_what_the_engine_gives() {
    for path in files() {
        let (text, scenario) = read(&path);
        let (breaths, _) = breaths(&scenario);
        let answers: Vec<&str> =
            text.lines().filter_map(|line| line.strip_prefix("//   breath ")).collect();
        assert!(answers.len() >= 2, "{} has no answers", path.display());
        for answer in answers {
            let (number, claims) = answer.split_once(": ").unwrap();
            let breath = &breaths[number.parse::<usize>().unwrap() - 1];
            for claim in claims.split(", ") {
                let (written, actual) = compared(claim, breath);
                assert_eq!(written, actual, "{}: breath {answer}: {claim}", path.display());
            }
        }
    }
}

/// What a claim says, and what it would say of this breath.
fn compared(claim: &str, breath: &Breath) -> (String, String) {
    if let Some(cause) = claim.strip_prefix("ended by ") {
        let actual = match breath.ended_by {
            EndedBy::Pressure => "pressure",
            EndedBy::Time => "time",
            EndedBy::Standby => "standby",
        };
        return (cause.to_owned(), actual.to_owned());
    }
    let (name, number) = claim.split_at(claim.find(|c: char| c.is_ascii_digit()).unwrap());
    let (number, unit) = number.split_once(' ').unwrap();
    let (value, expected_unit) = match name.trim() {
        "inspiratory time" => (breath.inspiratory_time.as_s(), "s"),
        "volume in" => (breath.inspired_tidal_volume.as_ml(), "mL"),
        "volume out" => (breath.expired_tidal_volume.as_ml(), "mL"),
        "leaked" => (breath.leaked.as_ml(), "mL"),
        "peak" => (breath.peak_pressure.as_cmh2o(), "cmH2O"),
        "baseline" => (breath.baseline_pressure.as_cmh2o(), "cmH2O"),
        "alveolar" => (breath.end_expiratory_alveolar_pressure.as_cmh2o(), "cmH2O"),
        "rate" => (breath.rate_per_min(), "a minute"),
        other => panic!("unknown name `{other}` in `{claim}`"),
    };
    assert_eq!(unit, expected_unit, "{claim}");
    let decimals = number.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    (number.to_owned(), format!("{value:.decimals$}"))
}
