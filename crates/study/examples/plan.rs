//! A plan for a cat with a leaky circuit.
#![allow(clippy::print_stdout, reason = "an example shows what it has")]
use tidewright::prelude::*;
use tidewright_study::plan;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut equipment = Setup::default();
    equipment.circuit.leak = Some(Leak::linear(Flow::ml_s(5.0), Pressure::cmh2o(30.0)));
    println!("{}", plan::text(&plan::plan(&equipment, &plan::Goals::default())?));
    Ok(())
}
