//! Every shipped lesson, or those whose names hold a word, against companies that no
//! lesson was made for: one for each of many first seeds, each company with twenty seeds of
//! every case and the corners of what a class may be dealt. Every verdict that is not just
//! is told, and how long each proof took.
//!
//! ```text
//! cargo run --release -p tidewright-training --example verdicts -- [COMPANIES] [NAME]
//! ```
#![allow(clippy::print_stdout, reason = "its report")]

#[path = "../tests/common/mod.rs"]
mod common;

use std::error::Error;
use std::time::Instant;

use common::{experts, lesson, lessons};
use tidewright_training::proof::prove_from;

/// From one first seed to the next; the first of all is this one, too.
const APART: u32 = 500;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let companies: u32 = arguments.next().map_or(Ok(20), |word| word.parse())?;
    let name = arguments.next().unwrap_or_default();
    let (mut verdicts, mut unjust) = (0, 0);
    for path in lessons() {
        let scenario = lesson(&path);
        if !scenario.id.as_str().contains(&name) {
            continue;
        }
        let experts = experts(&scenario);
        let (mut own, mut own_unjust, mut longest_s) = (0, 0, 0.0_f64);
        for company in 1..=companies {
            let begun = Instant::now();
            let proof = prove_from(&scenario, &experts, APART * company)?;
            longest_s = longest_s.max(begun.elapsed().as_secs_f64());
            own += proof.kinds.iter().map(|kind| kind.members).sum::<usize>();
            own_unjust += proof.unjust.len();
            if !proof.proved {
                println!("from seed {}:\n{}", APART * company, proof.to_text());
            }
        }
        println!(
            "{}: {own} verdicts, {own_unjust} unjust; the longest proof took {longest_s:.1} s",
            scenario.id
        );
        (verdicts, unjust) = (verdicts + own, unjust + own_unjust);
    }
    println!("{verdicts} verdicts, {unjust} unjust");
    Ok(())
}
