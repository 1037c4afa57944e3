//! Live runs to begin with.

use std::sync::Arc;

use tidewright::coupled::{GasPlan, GasSettings};
use tidewright::drive::Drive;
use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};

pub fn begin(start: &Setup) -> LiveRun {
    LiveRun::new(start.clone()).unwrap()
}

/// The lung of an animal on a ventilator or breathing by itself, with its gas.
pub fn with_gas(species: Species, kg: f64, own: bool, flow: f64) -> LiveRun {
    let animal = Animal::typical(species, Mass::kg(kg));
    let mut setup = Setup { lung: animal.lung(), ..Setup::default() };
    setup.ventilator.fresh_gas_flow = Flow::l_per_min(flow * kg);
    if own {
        setup.ventilator.mode = Mode::Standby;
    }
    let plan = plan(animal, &setup, own);
    LiveRun::with_gas(Arc::new(Machine::new(setup).unwrap()), &plan).unwrap()
}

pub fn plan(animal: Animal, setup: &Setup, own: bool) -> GasPlan {
    GasPlan {
        exchange: Exchange::new(&animal, &setup.lung, Apparatus::default()).unwrap(),
        arterial_carbon_dioxide: PartialPressure::mmhg(45.0),
        capnograph: Capnograph::new(Seconds::s(1.0), Seconds::s(0.2)),
        start: GasSettings {
            conditions: Conditions::of(&animal, 38.0, Fractions::OXYGEN),
            drive: own.then(|| Drive::of(&animal, 0.5)),
        },
        changes: vec![],
        animal,
    }
}
