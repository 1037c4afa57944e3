//! Runs a scenario file, or the built-in scenario, and prints what a person reads.
#![allow(clippy::print_stdout)]

use tidewright_scenario::{DEMO, parse_bytes, report};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let name = std::env::args().nth(1);
    let bytes = name.as_ref().map_or(Ok(DEMO.into()), std::fs::read)?;
    let scenario = parse_bytes(name.as_deref().unwrap_or("demo.ron"), &bytes)?;
    let mut table = report::Table::new(&scenario);
    let ending = report::run(&scenario, |_, breath| {
        breath.into_iter().for_each(|breath| table.take(breath));
        Ok(())
    })?;
    println!("{table}\n{}\n", ending.story);
    for caution in &ending.cautions {
        println!("{caution}");
    }
    Ok(())
}
