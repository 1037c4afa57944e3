//! Measures once and writes the table of `benches/README.md`.

#![allow(clippy::print_stdout)]

use std::fmt::Write as _;
use std::time::{Duration, Instant};

use tidewright::prelude::*;
use tidewright_benches::marking::Class;
use tidewright_benches::outside::{Outside, pretty};
use tidewright_benches::{cat, kinds, live, study, with_diffsol, with_ode_solvers};

fn main() -> std::io::Result<()> {
    let exact = Simulation::new(&cat::linear()).expect("a machine that runs");
    let numeric = Simulation::with_solver(&cat::linear(), Solver::Numeric).expect("a machine");
    let curved = Simulation::new(&cat::curved()).expect("a machine that runs");
    let inspirations = |breaths: &[Breath]| -> Vec<f64> {
        breaths.iter().map(|breath| breath.inspiratory_time.as_s()).collect()
    };
    let times = |simulation: &Simulation| {
        inspirations(&simulation.breaths_one_by_one().expect("a run that goes on").0)
    };
    let recognised = |simulation: &Simulation| {
        inspirations(&simulation.breaths().expect("a run that goes on").0)
    };
    // The linear truth is the exact road, which the tests hold to closed forms of
    // 50 digits; the curved one is ode_solvers at its tightest.
    let truth = times(&exact);
    let curved_truth = with_ode_solvers::inspiratory_times(true, 1e-13);
    let rows: Vec<(&str, &[f64], Duration, Vec<f64>)> = vec![
        row("linear: exact road, every breath metric", &truth, 2000, || times(&exact)),
        row("linear: the same, settled breaths recognised", &truth, 2000, || recognised(&exact)),
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
        row("curved: numeric road, every breath metric", &curved_truth, 40, || times(&curved)),
        row("curved: the same, settled breaths recognised", &curved_truth, 40, || {
            recognised(&curved)
        }),
        row("curved: `ode_solvers` Dopri5, tolerance 1e-8", &curved_truth, 5, || {
            with_ode_solvers::inspiratory_times(true, 1e-8)
        }),
        row("curved: `ode_solvers` Dopri5, tolerance 1e-9", &curved_truth, 5, || {
            with_ode_solvers::inspiratory_times(true, 1e-9)
        }),
    ];
    let mut text = String::from(
        "# Speed\n\nTen simulated minutes of a cat of 4 kg, all by one core in one run, the best of many.\n\
         *Linear*: two nodes; *curved*: with an orifice leak and a quadratic tube. The error is the\n\
         worst in an inspiratory time. Only the library's roads measure all that a breath has; the\n\
         others find the ends of inspirations alone. Every breath is worked out, unless it says\n\
         that settled breaths are recognised: `Simulation::breaths` writes down anew what must\n\
         follow from a state that is, bit for bit, one it has been in.\n\n\
         Made anew by `cargo run --release -p tidewright-benches`; with statistics by\n\
         `cargo bench -p tidewright-benches`. scipy is sought with `TIDEWRIGHT_PYTHON`, else\n\
         `python3`; CVODE is compiled by `cc` where SUNDIALS is installed.\n\n\
         | road | time | worst error | beside the library's road |\n|---|---|---|---|\n",
    );
    let mut own = Duration::from_secs(1);
    for (name, truth, time, times) in &rows {
        if name.contains("exact road") || name.contains("curved: numeric") {
            own = *time;
        }
        let error = cat::worst_error(times, truth);
        let ratio = time.as_secs_f64() / own.as_secs_f64();
        let _ = writeln!(text, "| {name} | {} | {error:.0e} s | {ratio:.1} × |", pretty(*time));
    }
    let of_libraries: Vec<(&str, Duration)> = rows
        .iter()
        .filter(|row| row.0.starts_with("linear: `"))
        .map(|row| (row.0, row.2))
        .collect();
    let outside = Outside::default();
    more_roads(&mut text, &truth, [rows[0].2, rows[1].2], &of_libraries, &outside);
    let breaths = truth.len() as f64;
    let each = rows[0].2.as_secs_f64() * 1e9 / breaths;
    let _ = writeln!(text, "\n{breaths} breaths: {each:.0} ns for each on the exact road.");
    text.push_str(&kinds::table(&outside));
    live_runs(&mut text);
    studies(&mut text);
    marks(&mut text);
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

/// The batch road, and programs from outside, beside the exact road: its times
/// with each breath worked out, and with settled ones recognised.
fn more_roads(
    text: &mut String,
    truth: &[f64],
    exact: [Duration; 2],
    libraries: &[(&str, Duration)],
    outside: &Outside,
) {
    let (alone, alone_times) = study::best(2000, || study::batch_times::<1>(truth.len()));
    let (all, times) = study::best(2000, || study::batch_times::<{ study::LANES }>(truth.len()));
    let batch = all / study::LANES as u32;
    let mut line = |name: &str, time: Duration, times: &[f64]| {
        let error = cat::worst_error(times, truth);
        let ratio = time.as_secs_f64() / exact[0].as_secs_f64();
        let digits = if ratio < 10.0 { 2 } else { 0 };
        let _ =
            writeln!(text, "| {name} | {} | {error:.0e} s | {ratio:.digits$} × |", pretty(time));
    };
    line("linear: two-node road, every breath metric", alone, &alone_times);
    line("linear: the same for 8 machines at once, one's share", batch, &times);
    let rows = outside.linear();
    for row in &rows {
        if let Ok((version, time, times)) = &row.told {
            line(&format!("{} ({version})", row.name), *time, times);
        }
    }
    for row in &rows {
        if let Err(why) = &row.told {
            let _ = writeln!(text, "| {} | {why} | | |", row.name);
        }
    }
    let outside = rows.iter().filter_map(|row| Some((&*row.name, row.told.as_ref().ok()?.1)));
    text.push_str(
        "\nPrograms from outside time themselves. How many times as long as the own roads they take:\n\n\
         | solver | exact, each breath worked out | exact, settled recognised | two-node, one machine | two-node, of 8 |\n\
         |---|---|---|---|---|\n",
    );
    for (name, time) in libraries.iter().copied().chain(outside) {
        let name = name.trim_start_matches("linear: ");
        let times = |own: Duration| time.as_secs_f64() / own.as_secs_f64();
        let _ = writeln!(
            text,
            "| {name} | {:.0} | {:.0} | {:.0} | {:.0} |",
            times(exact[0]),
            times(exact[1]),
            times(alone),
            times(batch)
        );
    }
    let each = |time: Duration| time.as_secs_f64() * 1e9 / truth.len() as f64;
    let _ = writeln!(
        text,
        "\nThe two-node road takes {:.1} ns for each breath of one machine, {:.1} ns of eight.",
        each(alone),
        each(batch)
    );
}

/// A run that one owns.
fn live_runs(text: &mut String) {
    let _ = writeln!(text, "\n## A run that one owns\n");
    let _ = writeln!(
        text,
        "A branch at ten minutes: to save the run in the middle of a step, let a minute pass and go\n\
         back, and how much longer that takes than the minute alone. A session saved and gone back to.\n"
    );
    let _ = writeln!(text, "| what | time | beyond the steps |\n|---|---|---|");
    let branches = [
        ("exact road", live::branch_of_cat(cat::linear(), 20_000)),
        ("numeric road, curved", live::branch_of_cat(cat::curved(), 400)),
        ("exact road with gas", live::branch_with_gas(400)),
    ];
    for (name, branch) in branches {
        let (whole, beyond) = (pretty(branch.whole), pretty(branch.beyond()));
        let _ = writeln!(text, "| a branch: {name} | {whole} | {beyond} |");
    }
    let hour = pretty(live::hour_with_gas(40));
    let _ = writeln!(text, "| an hour with gas and its totals | {hour} | |");
    let lesson = include_str!("../../scenarios/training/rowan-treat-the-cause.ron");
    for (age, age_s) in [("a second", 1.0), ("an hour", 3600.0)] {
        let time = pretty(live::session_goes_back(lesson, age_s, 20_000));
        let _ = writeln!(text, "| a session of {age} with gas saved and gone back to | {time} | |");
    }
}

/// Cohorts.
fn studies(text: &mut String) {
    let _ = writeln!(text, "\n## Cohorts\n");
    let _ = writeln!(text, "| what | time |\n|---|---|");
    let (time, summary) = study::cohort(3);
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let _ = writeln!(
        text,
        "| a million patients × ten breaths, with summary | {:.2} s on {cores} cores |",
        time.as_secs_f64(),
    );
    let each = time.as_secs_f64() * cores as f64 / summary.patients as f64;
    let general = study::by_the_general_road(20_000).as_secs_f64();
    let _ = writeln!(
        text,
        "| of that, a patient on one core | {:.2} µs |\n\
         | ten breaths of such a patient on the exact road, machine made ready | {:.2} µs: {:.0} × |",
        1e6 * each,
        1e6 * general,
        general / each
    );
    let peak = peak_memory_mb().map_or_else(|| "unknown here".to_owned(), |mb| format!("{mb} MB"));
    let _ = writeln!(text, "\nLargest memory of all of this: {peak}.");
}

/// Attempts marked.
fn marks(text: &mut String) {
    let _ = writeln!(text, "\n## Marking\n");
    let _ = writeln!(
        text,
        "Every shipped attempt of every lesson, each read, replayed and marked. Lessons with carbon\n\
         dioxide and oxygen follow these breath by breath for 10 to 40 minutes.\n"
    );
    let _ = writeln!(text, "| lessons | cores | attempts in a second |\n|---|---|---|");
    for (name, with_gas) in [("all", None), ("without gas", Some(false)), ("with gas", Some(true))]
    {
        let wanted = |gas: bool| with_gas.is_none_or(|with_gas| with_gas == gas);
        let class = Class::shipped(|scenario| wanted(scenario.gas.is_some()));
        for count in [1, 2] {
            let each = class.attempts() as f64 / class.time(count, 10).as_secs_f64();
            let _ = writeln!(text, "| {name} | {count} | {each:.0} |");
        }
    }
    let _ = writeln!(text);
}

/// The most memory that this process has had, MB, where the system tells.
fn peak_memory_mb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kb: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kb / 1000)
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
