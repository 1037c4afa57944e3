//! Measures once and writes the table of `benches/README.md`.

#![allow(clippy::print_stdout)]

use std::fmt::Write as _;
use std::time::{Duration, Instant};

use tidewright::prelude::*;
use tidewright_benches::{cat, with_diffsol, with_ode_solvers};

fn main() -> std::io::Result<()> {
    let exact = Simulation::new(&cat::linear()).expect("a machine that runs");
    let numeric = Simulation::with_solver(&cat::linear(), Solver::Numeric).expect("a machine");
    let curved = Simulation::new(&cat::curved()).expect("a machine that runs");
    let times = |simulation: &Simulation| -> Vec<f64> {
        let (breaths, _) = simulation.breaths().expect("a run that goes on");
        breaths.iter().map(|breath| breath.inspiratory_time.as_s()).collect()
    };
    // The linear truth is the exact road, which the tests hold to closed forms of
    // 50 digits; the curved one is ode_solvers at its tightest.
    let truth = times(&exact);
    let curved_truth = with_ode_solvers::inspiratory_times(true, 1e-13);
    let rows: Vec<(&str, &[f64], Duration, Vec<f64>)> = vec![
        row("linear: exact road, every breath metric", &truth, 2000, || times(&exact)),
        row("linear: numeric road, every breath metric", &truth, 20, || times(&numeric)),
        row("linear: `ode_solvers` Dopri5, tolerance 1e-10", &truth, 5, || {
            with_ode_solvers::inspiratory_times(false, 1e-10)
        }),
        row("linear: `ode_solvers` Dopri5, tolerance 1e-13", &truth, 5, || {
            with_ode_solvers::inspiratory_times(false, 1e-13)
        }),
        row("linear: `diffsol` BDF, tolerance 1e-10", &truth, 5, || {
            with_diffsol::inspiratory_times(1e-10)
        }),
        row("curved: numeric road, every breath metric", &curved_truth, 20, || times(&curved)),
        row("curved: `ode_solvers` Dopri5, tolerance 1e-9", &curved_truth, 5, || {
            with_ode_solvers::inspiratory_times(true, 1e-9)
        }),
    ];
    let mut text = String::from(
        "# Speed\n\nTen simulated minutes of a cat of 4 kg, all by one core in one run, the best of many.\n\
         *Linear*: two nodes; *curved*: with an orifice leak and a quadratic tube. The error is the\n\
         worst in an inspiratory time. Only the library's roads measure all that a breath has; the\n\
         others find the ends of inspirations alone.\n\n\
         Made anew by `cargo run --release -p tidewright-benches`; with statistics by\n\
         `cargo bench -p tidewright-benches`.\n\n\
         | road | time | worst error | beside the library's road |\n|---|---|---|---|\n",
    );
    let mut own = Duration::from_secs(1);
    for (name, truth, time, times) in &rows {
        if name.contains("exact road") || name.contains("curved: numeric") {
            own = *time;
        }
        let error = cat::worst_error(times, truth);
        let ratio = time.as_secs_f64() / own.as_secs_f64();
        let _ = writeln!(text, "| {name} | {} | {error:.0e} s | {ratio:.0} × |", pretty(*time));
    }
    let breaths = truth.len() as f64;
    let each = rows[0].2.as_secs_f64() * 1e9 / breaths;
    let _ = writeln!(text, "\n{breaths} breaths: {each:.0} ns for each on the exact road.");
    let version = std::process::Command::new("rustc").arg("--version").output()?;
    let _ = writeln!(
        text,
        "Measured with {}, {} {}.",
        String::from_utf8_lossy(&version.stdout).trim(),
        std::env::consts::ARCH,
        std::env::consts::OS,
    );
    print!("{text}");
    std::fs::write(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md"), text)
}

fn row<'a>(
    name: &'a str,
    truth: &'a [f64],
    rounds: u32,
    mut run: impl FnMut() -> Vec<f64>,
) -> (&'a str, &'a [f64], Duration, Vec<f64>) {
    let (mut best, mut times) = (Duration::MAX, Vec::new());
    for _ in 0..rounds {
        let start = Instant::now();
        times = run();
        best = best.min(start.elapsed());
    }
    (name, truth, best, times)
}

fn pretty(time: Duration) -> String {
    let us = time.as_secs_f64() * 1e6;
    if us < 1000.0 { format!("{us:.1} µs") } else { format!("{:.1} ms", us / 1000.0) }
}
