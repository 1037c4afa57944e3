//! The cat by programs from outside, where they are installed: scipy's LSODA and
//! Radau with events, and SUNDIALS CVODE with root finding. Each times itself, so
//! that starting it does not count; where one is not installed, that is said.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use serde_json::Value;

use crate::cat::gas_of_the_tube;

/// What came of a program: version, best time of a round and inspiratory times; or
/// why there is nothing.
pub type Told = Result<(String, Duration, Vec<f64>), String>;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/outside");

/// A program and what came of it.
#[derive(Debug)]
pub struct Row {
    /// Its name and tolerance.
    pub name: String,
    /// What came of it.
    pub told: Told,
}

/// The programs, ready to run.
#[derive(Debug)]
pub struct Outside {
    cvode: PathBuf,
    built: Result<(), String>,
}

impl Default for Outside {
    fn default() -> Self {
        let cvode = std::env::temp_dir().join(format!("tidewright-cvode-{}", std::process::id()));
        Self { built: built(&cvode), cvode }
    }
}

impl Drop for Outside {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.cvode);
    }
}

impl Outside {
    /// A kind of machine by a method of scipy.
    #[must_use]
    pub fn scipy(&self, kind: &str, method: &str, tolerance: &str, rounds: &str) -> Row {
        let python = std::env::var("TIDEWRIGHT_PYTHON").unwrap_or_else(|_| "python3".to_owned());
        let script = format!("{FOLDER}/scipy_solvers.py");
        let mut command = Command::new(python);
        command.args([script.as_str(), method, tolerance, rounds, kind]).args(gas());
        let name = format!("{kind}: scipy {method} with events, tolerance {tolerance}");
        Row { name, told: told(&mut command) }
    }

    /// A kind of machine by CVODE.
    #[must_use]
    pub fn cvode(&self, kind: &str, tolerance: &str, rounds: &str) -> Row {
        let told = self.built.clone().and_then(|()| {
            told(Command::new(&self.cvode).args([tolerance, rounds, kind]).args(gas()))
        });
        Row { name: format!("{kind}: SUNDIALS CVODE BDF with roots, tolerance {tolerance}"), told }
    }

    /// The linear cat by all of them.
    #[must_use]
    pub fn linear(&self) -> Vec<Row> {
        vec![
            self.scipy("linear", "LSODA", "1e-10", "3"),
            self.scipy("linear", "LSODA", "1e-13", "2"),
            // At 1e-10 it takes the better part of a minute.
            self.scipy("linear", "Radau", "1e-8", "1"),
            self.cvode("linear", "1e-10", "10"),
            self.cvode("linear", "1e-12", "10"),
        ]
    }
}

/// A time in the unit that suits it.
#[must_use]
pub fn pretty(time: Duration) -> String {
    let us = time.as_secs_f64() * 1e6;
    if us < 1000.0 { format!("{us:.1} µs") } else { format!("{:.1} ms", us / 1000.0) }
}

fn gas() -> [String; 2] {
    gas_of_the_tube().map(|number| format!("{number:e}"))
}

fn built(program: &Path) -> Result<(), String> {
    let mut compiler = Command::new("cc");
    compiler.args(["-O2", "-o"]).arg(program).arg(format!("{FOLDER}/cvode.c"));
    let libraries = ["cvode", "nvecserial", "sunlinsoldense", "sunmatrixdense"];
    compiler.args(libraries.map(|name| format!("-lsundials_{name}"))).arg("-lm");
    let output = compiler.output().map_err(|_| "no C compiler here".to_owned())?;
    if output.status.success() { Ok(()) } else { Err("not installed here".to_owned()) }
}

fn told(command: &mut Command) -> Told {
    let missing = || "not installed here".to_owned();
    let output = command.output().map_err(|_| missing())?;
    if !output.status.success() {
        return Err(missing());
    }
    let value: Value = serde_json::from_slice(&output.stdout).map_err(|error| error.to_string())?;
    let version = value["version"].as_str().unwrap_or_default().trim().to_owned();
    let seconds = value["seconds"].as_f64().ok_or_else(missing)?;
    let times = value["times"].as_array().ok_or_else(missing)?;
    let times = times.iter().filter_map(Value::as_f64).collect();
    Ok((version, Duration::from_secs_f64(seconds), times))
}
