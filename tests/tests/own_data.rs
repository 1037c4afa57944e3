//! Demo data, defaults and examples are of a setting of our own. The numbers with which
//! the trade explains this ventilator stand in tests of practice alone.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::fs;
use std::path::{Path, PathBuf};

use tidewright::prelude::*;
use tidewright_scenario::{DEMO, parse};

/// Where the trade's own numbers may stand, beside functions whose names begin with
/// `practice_`: this list of them, and what the tests of practice share.
const PRACTICE: [&str; 2] = ["tests/tests/own_data.rs", "tests/tests/trade_facts.rs"];
/// Words that tell a worked example of the trade, in any file.
const TOLD: [&str; 7] = [
    "1.2 L/min",
    "l_per_min(1.2)",
    "27/min",
    "27 a minute",
    "27 breaths",
    "per_min: 27",
    "20 mL in 1 s",
];

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() {
            if !name.starts_with('.') && name != "target" {
                files(&path, found);
            }
        } else if path.extension().is_some_and(|kind| {
            ["rs", "ron", "json", "md", "toml", "snap", "csv", "html", "js"]
                .iter()
                .any(|known| kind == *known)
        }) {
            found.push(path);
        }
    }
}

/// A text without its functions of practice: what stands from one `fn practice_` to the
/// next function at the same depth.
fn without_practice(text: &str) -> String {
    let mut parts = text.split("\nfn ");
    let mut kept = parts.next().unwrap_or_default().to_owned();
    for part in parts.filter(|part| !part.starts_with("practice_")) {
        kept += "\nfn ";
        kept += part;
    }
    kept
}

#[test]
fn functions_of_practice_alone_are_left_out() {
    let text = "a\nfn practice_x() {\n    27 a minute\n}\nfn other() {\n    1.2 L/min\n}";
    assert_eq!(without_practice(text), "a\nfn other() {\n    1.2 L/min\n}");
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// The number of a field as a file writes it: `name: 1.5` or `"name": 1.5`.
fn fields(text: &str, name: &str) -> Vec<f64> {
    text.split(name)
        .skip(1)
        .filter_map(|rest| {
            let rest = rest.trim_start_matches('"').strip_prefix(':')?.trim_start();
            let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len());
            rest[..end].parse().ok()
        })
        .collect()
}

#[test]
fn no_file_but_a_test_of_practice_tells_the_worked_numbers_of_the_trade() {
    let (root, mut found) = (root(), Vec::new());
    files(&root, &mut found);
    assert!(found.len() > 300, "{} files", found.len());
    let mut wrong = Vec::new();
    for path in found {
        let place = path.strip_prefix(&root).unwrap().to_string_lossy().replace('\\', "/");
        let Ok(text) = fs::read_to_string(&path) else { continue };
        if PRACTICE.contains(&&*place) {
            continue;
        }
        let text = without_practice(&text);
        for told in TOLD {
            if text.contains(told) {
                wrong.push(format!("{place}: `{told}`"));
            }
        }
        let flows = fields(&text, "fresh_gas_flow_l_min");
        if flows.contains(&1.2) {
            wrong.push(format!("{place}: a fresh gas flow of 1.2"));
        }
        let one_second = fields(&text, "inspiratory_time_limit_s").contains(&1.0);
        if one_second && fields(&text, "weight_kg").contains(&2.0) {
            wrong.push(format!("{place}: 20 mL, at 10 mL/kg, in 1 s"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Common practice, no source: expiration longer than inspiration, 8 to 12 mL/kg, a
/// time limit of about 1.5 times the inspiration.
#[test]
fn practice_the_first_examples_are_what_a_teacher_would_show() {
    let demo = parse("demo.ron", DEMO).unwrap().protocol().start;
    assert_eq!(demo.lung, Lung::default(), "one patient everywhere");
    for start in [demo, Setup::default()] {
        let set = start.ventilator;
        let protocol = Protocol { start, changes: vec![], duration: Seconds::s(60.0) };
        let (breaths, _) = Simulation::new(&protocol).unwrap().breaths().unwrap();
        let breath = breaths.last().unwrap();
        let inspiration_s = breath.inspiratory_time.as_s();
        assert_eq!(breath.ended_by, EndedBy::Pressure);
        assert!(set.expiratory_time.as_s() >= 1.9 * inspiration_s, "{inspiration_s}");
        let per_kg = breath.expired_tidal_volume.as_ml() / 4.5;
        assert!((8.0..=12.0).contains(&per_kg), "{per_kg} mL/kg");
        let over = set.inspiratory_time_limit.as_s() / inspiration_s;
        assert!((1.4..=1.6).contains(&over), "a limit of {over} times");
        let limited = (set.fresh_gas_flow * set.inspiratory_time_limit).as_ml() / 4.5;
        assert!(limited <= 20.0, "{limited} mL/kg");
    }
}
