//! A ventilator in real time: a hundred looks a second, a control turned in mid-breath.
#![allow(clippy::print_stdout)]
use tidewright::live::Scope;
use tidewright::prelude::*;

/// Runs it.
pub fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut run = LiveRun::new(Setup::default())?;
    let mut scope = Scope::truth(&[Signal::AirwayPressure], 100.0)?;
    let (mut meter, mut breaths) = (BreathMeter::default(), Vec::new());
    for look in 1..=800 {
        // A program with a clock waits for the next hundredth of a second here.
        run.advance(Seconds::s(f64::from(look) / 100.0), |passing| {
            scope.take(passing);
            breaths.extend(passing.finished().and_then(|stretch| meter.take(stretch)));
        })?;
        for sample in scope.drain() {
            assert!((-1.0..=10.1).contains(&sample.values[0]));
        }
        if look == 330 {
            let mut setup = run.machine().setup().clone();
            setup.ventilator.fresh_gas_flow = setup.ventilator.fresh_gas_flow * 1.5;
            run.change(setup)?;
        }
    }
    let [first, .., last] = &breaths[..] else { return Err("too few breaths".into()) };
    assert!(last.inspiratory_time < first.inspiratory_time);
    for breath in &breaths {
        println!("{} {}", breath.number, breath.inspiratory_time);
    }
    Ok(())
}
