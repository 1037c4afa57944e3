//! Every file in `scenarios/` is valid, runs, and means what its comments say.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::path::{Path, PathBuf};

use tidewright::breath::{Breath, EndedBy};
use tidewright::exchange::GasBreath;
use tidewright::run::Simulation;
use tidewright_scenario::format::Mode;
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

/// The breaths of the ventilator, with their gases, and the patient's own.
struct Breaths {
    ventilator: Vec<(Breath, Option<GasBreath>)>,
    own: Vec<GasBreath>,
}

fn breaths(scenario: &Scenario) -> (Breaths, report::Ending) {
    let mut breaths = Breaths { ventilator: Vec::new(), own: Vec::new() };
    let simulation = Simulation::new(&scenario.protocol()).unwrap();
    let ending = report::watch(scenario, &simulation, |progress| {
        breaths.ventilator.extend(progress.breath.map(|b| (*b, progress.breath_gas.copied())));
        breaths.own.extend(progress.own_breaths());
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
        let of = |(b, _): &(Breath, _)| (b.inspiratory_time + b.expiratory_time).as_s();
        let finished_s: f64 = breaths.ventilator.iter().map(of).sum();
        let under_way_s = ending.unfinished.map_or(0.0, |breath| breath.elapsed.as_s());
        // Before its first breath a ventilator stands by.
        let first_s = breaths.ventilator.first().map(|(breath, _)| breath.start.as_s());
        let standby_s = match scenario.ventilator.mode {
            Mode::Ventilating => 0.0,
            Mode::Standby => first_s.unwrap_or(scenario.duration_s),
        };
        assert!(
            (standby_s + finished_s + under_way_s - scenario.duration_s).abs() < 1e-9,
            "{}",
            path.display()
        );
        assert_eq!(ending.summary.breaths, breaths.ventilator.len() as u64);
        let own = ending.summary.gas.map_or(0, |gas| gas.own_breaths);
        assert_eq!(own, breaths.own.len() as u64);
    }
}

/// `breath 5: inspiratory time 1.37 s, ended by pressure` in a comment is
/// compared with the run, to the digits that are written.
#[test]
fn every_answer_in_the_comments_is_what_the_engine_gives() {
    let mut wrong = Vec::new();
    for path in files() {
        let (text, scenario) = read(&path);
        let (breaths, _) = breaths(&scenario);
        let mut answers = 0;
        for line in text.lines() {
            let Some(answer) = line.strip_prefix("//   ") else { continue };
            let Some((number, claims)) = answer.split_once(": ") else { continue };
            let at = |number: &str| number.parse::<usize>().unwrap() - 1;
            let (breath, gas) =
                match (number.strip_prefix("breath "), number.strip_prefix("own breath ")) {
                    (Some(number), _) => {
                        let (breath, gas) = &breaths.ventilator[at(number)];
                        (Some(breath), gas.as_ref())
                    }
                    (_, Some(number)) => (None, Some(&breaths.own[at(number)])),
                    _ => continue,
                };
            answers += 1;
            for claim in claims.split(", ") {
                let (written, actual) = compared(claim, breath, gas);
                if written != actual {
                    let file = path.display();
                    wrong.push(format!("{file} | {answer} | {claim} | {written} | {actual}"));
                }
            }
        }
        assert!(answers >= 2, "{} has no answers", path.display());
    }
    assert!(wrong.is_empty(), "the engine gives otherwise:\n{}", wrong.join("\n"));
}

/// What a claim says, and what it would say of this breath.
fn compared(claim: &str, breath: Option<&Breath>, gas: Option<&GasBreath>) -> (String, String) {
    if let Some(cause) = claim.strip_prefix("ended by ") {
        let actual = match breath.unwrap().ended_by {
            EndedBy::Pressure => "pressure",
            EndedBy::Time => "time",
            EndedBy::Standby => "standby",
        };
        return (cause.to_owned(), actual.to_owned());
    }
    // A name may end in a digit (CO2): the number follows the last letter.
    let (name, number, unit) = {
        let mut words = claim.rsplitn(3, ' ');
        let (unit, number) = (words.next().unwrap(), words.next().unwrap());
        match (unit, number) {
            ("minute", "a") => {
                let (name, number) = words.next().unwrap().rsplit_once(' ').unwrap();
                (name, number, "a minute")
            }
            _ => (words.next().unwrap(), number, unit),
        }
    };
    let of_gas = |value: fn(&GasBreath) -> f64| value(gas.unwrap());
    let of_breath = |value: fn(&Breath) -> f64| value(breath.unwrap());
    let (value, expected_unit) = match name {
        "inspiratory time" => (of_breath(|b| b.inspiratory_time.as_s()), "s"),
        "volume in" => match breath {
            Some(breath) => (breath.inspired_tidal_volume.as_ml(), "mL"),
            None => (of_gas(|gas| gas.inspired.as_ml()), "mL"),
        },
        "volume out" => match breath {
            Some(breath) => (breath.expired_tidal_volume.as_ml(), "mL"),
            None => (of_gas(|gas| gas.expired.as_ml()), "mL"),
        },
        "leaked" => (of_breath(|b| b.leaked.as_ml()), "mL"),
        "peak" => (of_breath(|b| b.peak_pressure.as_cmh2o()), "cmH2O"),
        "baseline" => (of_breath(|b| b.baseline_pressure.as_cmh2o()), "cmH2O"),
        "alveolar" => (of_breath(|b| b.end_expiratory_alveolar_pressure.as_cmh2o()), "cmH2O"),
        "rate" => match breath {
            Some(breath) => (breath.rate_per_min(), "a minute"),
            None => (60.0 / of_gas(|gas| gas.duration.as_s()), "a minute"),
        },
        "EtCO2" => (of_gas(|gas| gas.end_tidal_carbon_dioxide.as_mmhg()), "mmHg"),
        "inspired CO2" => (of_gas(|gas| gas.mean_inspired_carbon_dioxide.as_mmhg()), "mmHg"),
        "PaCO2" => (of_gas(|gas| gas.arterial_carbon_dioxide.as_mmhg()), "mmHg"),
        "SpO2" => (100.0 * of_gas(|gas| gas.arterial_saturation), "%"),
        other => panic!("unknown name `{other}` in `{claim}`"),
    };
    assert_eq!(unit, expected_unit, "{claim}");
    let decimals = number.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    (number.to_owned(), format!("{value:.decimals$}"))
}
