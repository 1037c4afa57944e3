//! The search for the valid scenario whose ten minutes take longest: the slowest so far are
//! changed a little, again and again, and what is slower takes their place.

use std::io::{self, Write as _};
use std::time::Duration;

use clap::Parser;
use rand::{RngExt as _, SeedableRng};
use rand_pcg::Pcg64Mcg;
use tidewright_fuzz::choices::Choices;
use tidewright_fuzz::spent::spent;
use tidewright_fuzz::{mutated, run_ten_minutes, scenario_or_lesson};
use tidewright_scenario::{Scenario, parse};

/// So many of the slowest are changed further.
const KEPT: usize = 12;

/// Searches for scenarios that crawl, and prints the slowest
#[derive(Parser)]
struct Climb {
    /// Scenarios to try
    #[arg(long, default_value_t = 2000)]
    runs: u64,

    /// Seed of the search
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

struct Find {
    took: Duration,
    text: String,
    came: Result<usize, String>,
}

fn main() -> io::Result<()> {
    let climb = Climb::parse();
    let mut random = Pcg64Mcg::seed_from_u64(climb.seed);
    let (mut slowest, mut valid): (Vec<Find>, u64) = (Vec::new(), 0);
    for _ in 0..climb.runs {
        let mut bytes = vec![0; random.random_range(8..400)];
        random.fill(&mut bytes[..]);
        let choices = &mut Choices::new(&bytes);
        let from = match slowest.len() {
            kept if kept > 0 && !choices.once_in(4) => slowest[choices.below(kept)].text.clone(),
            _ => scenario_or_lesson(choices),
        };
        let text = mutated::<Scenario>(&from, choices);
        let Ok(scenario) = parse("any.ron", &text) else { continue };
        valid += 1;
        let before = spent();
        let came = run_ten_minutes(scenario);
        let took = spent().saturating_sub(before);
        if slowest.len() < KEPT || slowest.last().is_some_and(|last| took > last.took) {
            slowest.push(Find { took, text, came });
            slowest.sort_by_key(|find| std::cmp::Reverse(find.took));
            slowest.truncate(KEPT);
        }
    }
    let mut out = io::stdout();
    for Find { took, text, came } in slowest.iter().rev() {
        writeln!(out, "{text}\n// {took:.2?}: {came:?}\n")?;
    }
    let took: Vec<Duration> = slowest.iter().map(|find| find.took).collect();
    writeln!(out, "// {valid} of {} were valid; the slowest took {took:.2?}", climb.runs)
}
