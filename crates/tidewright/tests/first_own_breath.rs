//! Why the first breath that a large animal takes by itself comes out smaller than it went in.

use tidewright::coupled::{Coupled, GasPlan, GasSettings};
use tidewright::drive::Drive;
use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};

/// A run begins at rest, before fresh gas flows. Once it flows it meets the outlet's
/// resistance, and the lung stays larger by V̇·R·C: that much of the first breaths stays.
#[test]
fn closed_form_the_first_own_breath_fills_the_lung_to_the_outlets_pressure() {
    let horse = Animal::typical(Species::Horse, Mass::kg(500.0));
    let kept = |resistance: f64| {
        let mut start = Setup { lung: horse.lung(), ..Setup::default() };
        start.ventilator.mode = Mode::Standby;
        start.ventilator.fresh_gas_flow = Flow::l_per_min(100.0);
        start.circuit.valve_resistance = Resistance::cmh2o_s_per_l(resistance);
        let apparatus = Apparatus { limb_ml: 10_000.0, ..Apparatus::default() };
        let drive = Drive::of(&horse, 0.4);
        let gas = GasPlan {
            exchange: Exchange::new(&horse, &start.lung, apparatus).unwrap(),
            arterial_carbon_dioxide: drive.usual_arterial().unwrap(),
            capnograph: Capnograph::new(Seconds::ZERO, Seconds::ZERO),
            start: GasSettings {
                conditions: Conditions::of(&horse, 37.8, Fractions::OXYGEN),
                drive: Some(drive),
            },
            changes: vec![],
            animal: horse.clone(),
        };
        let protocol = Protocol { start, changes: vec![], duration: Seconds::s(60.0) };
        let simulation = Simulation::new(&protocol).unwrap();
        let breaths = Coupled::new(&simulation, Some(&gas)).unwrap();
        let breaths = breaths.flat_map(|together| together.unwrap().gas.unwrap().breaths);
        let kept: Vec<f64> =
            breaths.map(|one| one.inspired.as_ml() - one.expired.as_ml()).collect();
        (kept[0], kept[3])
    };
    let compliance = horse.lung().total_compliance().as_ml_per_cmh2o();
    let ml = |resistance: f64| 100.0 / 60.0 * resistance * compliance;
    // What blood takes up of oxygen beyond what it gives of carbon dioxide stays with every
    // breath, whatever the resistance.
    let (narrow, wide) = (kept(5.0), kept(1.0));
    let off = (narrow.0 - wide.0) / (ml(5.0) - ml(1.0)) - 1.0;
    assert!(off.abs() < 0.05, "{narrow:?} {wide:?}");
    assert!(narrow.1 < 0.1 * narrow.0, "{narrow:?}");
}
