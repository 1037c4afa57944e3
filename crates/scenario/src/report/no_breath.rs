//! Why no gas reaches a lung.

use tidewright::quantity::Flow;
use tidewright::setup::{Mode, PatientPort, Setup, Tube, Valve};

/// What keeps gas from the lung with these settings, as the end of "there is no breath,
/// as …": what lies nearest to the lung first.
pub(super) fn why(setup: &Setup) -> &'static str {
    let (lung, circuit, ventilator) = (&setup.lung, &setup.circuit, &setup.ventilator);
    if lung.compartments.iter().all(|part| part.shut) {
        "no airway lets gas through"
    } else if lung.tube == Tube::Shut {
        "the tube is shut"
    } else if circuit.patient_port == PatientPort::Blocked {
        "the patient port is blocked"
    } else if circuit.patient_port == PatientPort::Open {
        "the patient is off the breathing system and does not breathe by itself"
    } else if ventilator.mode == Mode::Standby {
        "the ventilator stands by and the patient does not breathe by itself"
    } else if ventilator.fresh_gas_flow <= Flow::ZERO {
        "no fresh gas flows"
    } else if circuit.valve == Valve::StuckOpen {
        "the outlet valve stays open and the gas leaves through it"
    } else if circuit.limb.is_some_and(|limb| limb.disconnected) {
        "the limb is off and the gas leaves through it"
    } else if circuit.leak.is_some() {
        "the gas leaves through the leak"
    } else {
        "the ventilator's cycles bring next to no gas to the lung"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cause_nearest_to_the_lung_is_told() {
        let mut setup = Setup::default();
        setup.ventilator.fresh_gas_flow = Flow::ZERO;
        assert_eq!(why(&setup), "no fresh gas flows");
        setup.circuit.patient_port = PatientPort::Blocked;
        assert_eq!(why(&setup), "the patient port is blocked");
        setup.lung.tube = Tube::Shut;
        assert_eq!(why(&setup), "the tube is shut");
    }
}
