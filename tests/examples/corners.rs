//! The search for machines that crawl: how long one core works on ten simulated seconds of
//! machine k, for many k, with breaths and, where a lung can have it, gas; and on making
//! its gas ready. Each that is too slow is told as it is found, the slowest at the end.
//! Linux tells the time of one core; elsewhere there is no search.
//!
//! ```text
//! cargo run --release -p tidewright-tests --example corners -- [FIRST] [COUNT]
//! ```
#![allow(clippy::print_stdout, reason = "its report")]

use std::time::Duration;

use tidewright::coupled::Coupled;
use tidewright::prelude::*;
use tidewright_tests::corners;

/// Simulated, s.
const LENGTH_S: f64 = 20.0;
/// The longest that ten of these may take, s, and the start of a run.
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
                if told.worst_s <= ALLOWED_S {
                    break;
                }
                let again = run(&simulation, &protocol.start, with_gas);
                told.worst_s = told.worst_s.min(again.worst_s);
            }
            ran += 1;
            stopped += u32::from(told.ended.is_some());
            let found = (told.worst_s, k, with_gas, told.ended);
            if found.0 > ALLOWED_S {
                println!("{}", line(&found));
            }
            slow.push(found);
        }
    }
    slow.sort_by(|a, b| b.0.total_cmp(&a.0));
    let over = slow.iter().filter(|found| found.0 > ALLOWED_S).count();
    println!(
        "{ran} runs, {refused} machines refused at once, {stopped} runs stopped, {over} too slow"
    );
    for found in slow.iter().take(12) {
        println!("{}", line(found));
    }
}

fn line((worst_s, k, with_gas, ended): &(f64, u64, bool, Option<String>)) -> String {
    let what = if *with_gas { "with gas" } else { "alone" };
    let ended = ended.as_deref().unwrap_or("");
    format!("{:7.1} ms for 10 s: {k} {what} {ended}", worst_s * 1e3)
}

/// How long this thread has worked so far.
fn worked() -> Duration {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").expect("Linux tells it");
    let ns = text.split_whitespace().next().and_then(|word| word.parse().ok());
    Duration::from_nanos(ns.expect("nanoseconds"))
}

struct Told {
    /// The longest that any ten seconds, or the start, took, s.
    worst_s: f64,
    ended: Option<String>,
}

fn run(simulation: &Simulation, setup: &Setup, with_gas: bool) -> Told {
    let plan = with_gas.then(|| corners::gas(setup));
    let mut meter = BreathMeter::default();
    let (mut worst, mut spent) = (Duration::ZERO, vec![Duration::ZERO; 6]);
    let mut ended = None;
    let mut last = worked();
    let run = match Coupled::new(simulation, plan.as_ref()) {
        Ok(run) => run,
        Err(error) => {
            let worst_s = (worked() - last).as_secs_f64();
            return Told { worst_s, ended: Some(error.to_string()) };
        }
    };
    worst = worst.max(worked() - last);
    last = worked();
    let mut at = 0;
    for together in run {
        match together {
            Ok(together) => {
                let _ = meter.take(&together.stretch);
                let ends_s = together.stretch.piece.end_s();
                let now_at = ((ends_s / 10.0) as usize).min(spent.len() - 1);
                if now_at != at {
                    let now = worked();
                    spent[at] += now - last;
                    (last, at) = (now, now_at);
                }
            }
            Err(error) => ended = Some(error.to_string()),
        }
    }
    spent[at] += worked() - last;
    for pair in spent.windows(2) {
        worst = worst.max(pair[0].max(pair[1]));
    }
    Told { worst_s: worst.as_secs_f64(), ended }
}
