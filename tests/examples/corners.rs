//! The search for machines that crawl: how long ten simulated seconds of machine k take,
//! for many k, with breaths and, where a lung can have it, gas. The slowest are told.
//!
//! ```text
//! cargo run --release -p tidewright-tests --example corners -- [FIRST] [COUNT]
//! ```
#![allow(clippy::print_stdout, reason = "its report")]

use std::time::{Duration, Instant};

use tidewright::coupled::{Coupled, GasPlan, GasSettings};
use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};
use tidewright_tests::corners;

/// Simulated, s.
const LENGTH_S: f64 = 20.0;
/// The longest that ten of these may take, s.
const ALLOWED_S: f64 = 0.2;

fn main() {
    let mut arguments = std::env::args().skip(1).filter_map(|word| word.parse().ok());
    let first: u64 = arguments.next().unwrap_or(0);
    let count: u64 = arguments.next().unwrap_or(1000);
    let (mut refused, mut ran, mut stopped, mut slow) = (0, 0, 0, vec![]);
    for k in first..first + count {
        let start = corners::machine(k);
        let protocol = Protocol { start, changes: vec![], duration: Seconds::s(LENGTH_S) };
        let Ok(simulation) = Simulation::new(&protocol) else {
            refused += 1;
            continue;
        };
        for with_gas in [false, true] {
            let mut told = run(&simulation, &protocol.start, with_gas);
            // A neighbour on the machine makes one run slow, not three.
            for _ in 0..2 {
                if told.worst_s <= ALLOWED_S / 2.0 {
                    break;
                }
                let again = run(&simulation, &protocol.start, with_gas);
                told.worst_s = told.worst_s.min(again.worst_s);
            }
            ran += 1;
            stopped += u32::from(told.ended.is_some());
            slow.push((told.worst_s, k, with_gas, told.ended));
        }
    }
    slow.sort_by(|a, b| b.0.total_cmp(&a.0));
    let over = slow.iter().filter(|found| found.0 > ALLOWED_S).count();
    println!(
        "{ran} runs, {refused} machines refused at once, {stopped} runs stopped, {over} too slow"
    );
    for (worst_s, k, with_gas, ended) in slow.iter().take(12) {
        let what = if *with_gas { "with gas" } else { "alone" };
        println!(
            "{:7.1} ms for 10 s: {k} {what} {}",
            worst_s * 1e3,
            ended.as_deref().unwrap_or("")
        );
    }
}

struct Told {
    /// The longest that any ten seconds took, s.
    worst_s: f64,
    ended: Option<String>,
}

fn run(simulation: &Simulation, setup: &Setup, with_gas: bool) -> Told {
    let plan = with_gas.then(|| plan(setup));
    let mut meter = BreathMeter::default();
    let (mut worst, mut spent, mut ends_s) = (Duration::ZERO, vec![Duration::ZERO; 6], 0.0);
    let mut ended = None;
    let Ok(run) = Coupled::new(simulation, plan.as_ref()) else {
        return Told { worst_s: 0.0, ended: Some("no gas for this lung".to_owned()) };
    };
    let mut last = Instant::now();
    for together in run {
        let now = Instant::now();
        match together {
            Ok(together) => {
                let _ = meter.take(&together.stretch);
                ends_s = together.stretch.piece.end_s();
            }
            Err(error) => ended = Some(error.to_string()),
        }
        let at = ((ends_s / 10.0) as usize).min(spent.len() - 1);
        spent[at] += now - last;
        last = now;
    }
    for pair in spent.windows(2) {
        worst = worst.max(pair[0].max(pair[1]));
    }
    Told { worst_s: worst.as_secs_f64(), ended }
}

fn plan(setup: &Setup) -> GasPlan {
    let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
    let exchange =
        Exchange::new(&cat, &setup.lung, Apparatus::default()).expect("gas for any lung");
    GasPlan {
        exchange,
        arterial_carbon_dioxide: PartialPressure::mmhg(40.0),
        capnograph: Capnograph::new(Seconds::s(1.5), Seconds::s(0.2)),
        start: GasSettings {
            conditions: Conditions::of(&cat, 38.0, Fractions::OXYGEN),
            drive: None,
        },
        changes: vec![],
        animal: cat,
    }
}
