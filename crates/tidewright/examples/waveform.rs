//! A waveform as a list of numbers.
#![allow(clippy::print_stdout)]
use tidewright::live::Scope;
use tidewright::prelude::*;

/// Runs it.
pub fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut run = LiveRun::new(Setup::default())?;
    let mut scope = Scope::truth(&[Signal::AirwayPressure, Signal::AirwayFlow], 50.0)?;
    run.advance(Seconds::s(10.0), |passing| scope.take(passing))?;
    let pressures: Vec<f64> = scope.drain().map(|sample| sample.values[0]).collect();
    assert_eq!(pressures.len(), 501);
    println!("{:.2} cmH2O at most", pressures.iter().copied().fold(f64::MIN, f64::max));
    Ok(())
}
