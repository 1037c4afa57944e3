//! Marks an attempt and prints its debrief:
//! `cargo run -p tidewright-training --example mark_attempt SCENARIO ATTEMPT`.
#![allow(clippy::print_stdout, reason = "an example prints")]

use std::error::Error;
use std::sync::Arc;

use tidewright_scenario::{parse, parse_attempt};
use tidewright_training::debrief::debrief;

fn main() -> Result<(), Box<dyn Error>> {
    let mut paths = std::env::args().skip(1);
    let (Some(scenario), Some(attempt)) = (paths.next(), paths.next()) else {
        return Err("name a scenario and an attempt".into());
    };
    let scenario = Arc::new(parse(&scenario, &std::fs::read_to_string(&scenario)?)?);
    let attempt = parse_attempt(&attempt, &std::fs::read_to_string(&attempt)?)?;
    println!("{}", debrief(&scenario, &attempt, None)?.to_text());
    Ok(())
}
