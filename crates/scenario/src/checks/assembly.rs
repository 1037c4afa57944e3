//! A circuit put together from parts: whether it can be, and whether anything else says
//! what it says.

use super::Places;
use crate::fault::{Fault, Faults, Problem};
use crate::format::{Change, Circuit, FreshGasInlet, Reservoir, Scenario};
use crate::read::{any, read_absent};
use crate::text::Span;

pub(super) fn check(scenario: &Scenario, places: &Places<'_>, faults: &mut Faults) {
    let Some(assembly) = &scenario.assembly else { return };
    let here = places.of(&["assembly"]);
    let mut both = |at: Span| {
        faults.push(Fault::new(at, Problem::AssemblyAlone).and(here, "parts say it here"));
    };
    let usual: Option<Circuit> = read_absent(&any().or_empty());
    if usual.as_ref() != Some(&scenario.circuit) {
        both(places.of(&["circuit"]));
    }
    if let Some(gas) = &scenario.gas {
        let said = [
            ("adapter_ml", gas.adapter_ml.is_some()),
            ("limb_ml", gas.limb_ml.is_some()),
            ("reservoir", gas.reservoir != Reservoir::OpenTube),
            ("fresh_gas_inlet", gas.fresh_gas_inlet != FreshGasInlet::NearPatient),
        ];
        for (field, _) in said.iter().filter(|(_, said)| *said) {
            both(places.of(&["gas", field]));
        }
    }
    for (index, entry) in scenario.timeline.iter().enumerate() {
        if is_of_the_circuit(&entry.set) {
            both(places.entry(index, "set"));
        }
    }
    if let Err(error) = assembly.put_together() {
        faults.push(Fault::new(here, Problem::Refused { why: error.to_string() }));
    }
}

fn is_of_the_circuit(change: &Change) -> bool {
    matches!(
        change,
        Change::Leak(_)
            | Change::NoLeak
            | Change::ValveResistance(_)
            | Change::Valve(_)
            | Change::BackflowCheck(_)
            | Change::Limb(_)
            | Change::WaterInLimb(_)
            | Change::Relief(_)
            | Change::Sensor(_)
            | Change::PatientPort(_)
    )
}
