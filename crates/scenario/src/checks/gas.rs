//! What of gas exchange does not go together.

use super::Places;
use crate::fault::{Fault, Faults, Problem};
use crate::format::{Change, Effort, Scenario};

/// Notes what needs gas exchange in a run without it, and limits that cannot be.
pub(super) fn check(scenario: &Scenario, places: &Places<'_>, faults: &mut Faults) {
    if let Some(gas) = &scenario.gas {
        let limits = &gas.limits;
        let (first, second) = (limits.lowest_end_tidal_co2_mmhg, limits.highest_end_tidal_co2_mmhg);
        if first > second {
            let at = places.of(&["gas", "limits", "lowest_end_tidal_co2_mmhg"]);
            faults.push(Fault::new(at, Problem::RangeReversed { first, second }));
        }
        return;
    }
    if let Some(Effort::Drive(_)) = &scenario.patient.effort {
        let at = places.of(&["patient", "effort"]);
        faults.push(Fault::new(at, Problem::NoGas { what: DRIVE }));
    }
    for (index, entry) in scenario.timeline.iter().enumerate() {
        let what = match entry.set {
            Change::Effort(Effort::Drive(_)) => DRIVE,
            Change::FreshGasOxygen(_) => "this sets the oxygen in the fresh gas",
            Change::CardiacOutput(_) => "this sets the cardiac output",
            Change::Temperature(_) => "this sets the temperature",
            _ => continue,
        };
        faults.push(Fault::new(places.entry(index, "set"), Problem::NoGas { what }));
    }
}

const DRIVE: &str = "the drive to breathe follows arterial carbon dioxide";
