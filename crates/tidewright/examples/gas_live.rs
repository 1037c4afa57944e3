//! Carbon dioxide of a ventilated rabbit, and what a longer expiration makes of it.
#![allow(clippy::print_stdout)]
use std::sync::Arc;

use tidewright::coupled::{GasPlan, GasSettings};
use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};

/// Runs it.
pub fn main() -> Result<(), Box<dyn std::error::Error>> {
    let rabbit = Animal::typical(Species::Rabbit, Mass::kg(2.5));
    let setup = Setup { lung: rabbit.lung(), ..Setup::default() };
    let plan = GasPlan {
        exchange: Exchange::new(&rabbit, &setup.lung, Apparatus::default())?,
        arterial_carbon_dioxide: PartialPressure::mmhg(40.0),
        capnograph: Capnograph::new(Seconds::s(1.5), Seconds::s(0.2)),
        start: GasSettings {
            conditions: Conditions::of(&rabbit, 38.5, Fractions::OXYGEN),
            drive: None,
        },
        changes: vec![],
        animal: rabbit,
    };
    let mut run = LiveRun::with_gas(Arc::new(Machine::new(setup)?), &plan)?;
    run.advance(Seconds::s(300.0), |_| {})?;
    let before = run.gas()?.ok_or("the run has gas")?.arterial().carbon_dioxide;
    let mut slower = run.machine().setup().clone();
    slower.ventilator.expiratory_time = slower.ventilator.expiratory_time * 2.0;
    run.change(slower)?;
    let mut capnogram = Vec::new();
    run.advance(Seconds::s(900.0), |passing| {
        capnogram.extend(passing.gas_points().iter().map(|point| point.carbon_dioxide_mmhg));
    })?;
    let after = run.gas()?.ok_or("the run has gas")?.arterial().carbon_dioxide;
    assert!(after > before && !capnogram.is_empty());
    println!("{:.1} mmHg, then {:.1} mmHg", before.as_mmhg(), after.as_mmhg());
    Ok(())
}
