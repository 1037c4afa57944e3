//! One breath table.
#![allow(clippy::print_stdout)]
use tidewright::prelude::*;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let setup = Setup::default(); // a cat of 4.5 kg
    let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(20.0) };
    for breath in Simulation::new(&protocol)?.breaths()?.0 {
        println!("{} {} {}", breath.number, breath.inspiratory_time, breath.inspired_tidal_volume);
    }
    Ok(())
}
