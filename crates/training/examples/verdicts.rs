//! Every shipped lesson, or those whose names hold a word, against companies that no
//! lesson was made for: one for each of many first seeds, each company with twenty seeds of
//! every case and the corners of what a class may be dealt. Every verdict that is not just
//! is told, how far the best of the thoughtless and the worst of the thoughtful stay from the
//! pass mark, and how long each proof took. A first seed of your own gives companies that
//! nobody has met before.
//!
//! ```text
//! cargo run --release -p tidewright-training --example verdicts -- [COMPANIES] [NAME] [FIRST_SEED]
//! ```
#![allow(clippy::print_stdout, reason = "its report")]

#[path = "../tests/common/mod.rs"]
mod common;

use std::error::Error;
use std::time::Instant;

use common::{experts, lesson, lessons};
use tidewright_training::proof::prove_from;

/// From one first seed to the next; the first of all is this one, too, unless told.
const APART: u32 = 500;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let companies: u32 = arguments.next().map_or(Ok(20), |word| word.parse())?;
    let name = arguments.next().unwrap_or_default();
    let first: u32 = arguments.next().map_or(Ok(APART), |word| word.parse())?;
    let (mut verdicts, mut unjust) = (0, 0);
    for path in lessons() {
        let scenario = lesson(&path);
        if !scenario.id.as_str().contains(&name) {
            continue;
        }
        let experts = experts(&scenario);
        let (mut own, mut own_unjust, mut longest_s) = (0, 0, 0.0_f64);
        let (mut best, mut worst, mut pass) = (0.0_f64, 100.0_f64, 0.0);
        for seed in (0..companies).map(|company| first + APART * company) {
            let begun = Instant::now();
            let proof = prove_from(&scenario, &experts, seed)?;
            longest_s = longest_s.max(begun.elapsed().as_secs_f64());
            best = best.max(proof.best_thoughtless_percent.unwrap_or(0.0));
            worst = worst.min(proof.worst_thoughtful_percent.unwrap_or(100.0));
            pass = proof.pass_percent;
            own += proof.kinds.iter().map(|kind| kind.members).sum::<usize>();
            own_unjust += proof.unjust.len();
            if !proof.proved {
                println!("from seed {seed}:\n{}", proof.to_text());
            }
        }
        println!(
            "{}: {own} verdicts, {own_unjust} unjust; best thoughtless {best:.0} %, worst \
             thoughtful {worst:.0} %, pass mark {pass} %; the longest proof took {longest_s:.1} s",
            scenario.id
        );
        (verdicts, unjust) = (verdicts + own, unjust + own_unjust);
    }
    println!("{verdicts} verdicts, {unjust} unjust");
    Ok(())
}
