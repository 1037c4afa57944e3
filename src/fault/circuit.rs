//! Faults of the breathing circuit.

use super::Joint;
use crate::quantity::{Compliance, Pressure, Resistance};
use crate::setup::{Circuit, Leak, LeakLaw, Limb, PatientPort, SensorPlace};

/// A further hole: holes of one law add up, and there is a place for each law.
pub(super) fn add_leak(circuit: &mut Circuit, leak: Leak, severity: f64) {
    let leak = Leak { flow: leak.flow * severity, ..leak };
    let of_its_law = |place: &Option<Leak>| place.is_none_or(|old| old.law == leak.law);
    let place = if of_its_law(&circuit.leak) { &mut circuit.leak } else { &mut circuit.second_leak };
    *place = Some(place.map_or(leak, |old| side_by_side(old, leak)));
}

/// Both holes of one law as one, stated at the pressure of the first.
fn side_by_side(first: Leak, second: Leak) -> Leak {
    let pressures = first.at.as_cmh2o() / second.at.as_cmh2o();
    let factor = match first.law {
        LeakLaw::Linear => pressures,
        LeakLaw::Orifice => pressures.sqrt(),
    };
    Leak { flow: first.flow + second.flow * factor, ..first }
}

pub(super) fn disconnect(circuit: &mut Circuit, joint: Joint) {
    match joint {
        Joint::PatientConnection => circuit.patient_port = PatientPort::Open,
        Joint::FreshGasHose => circuit.fresh_gas_hose_off = true,
        Joint::Limb => {
            // A limb that the outlet's resistance stands for is given a form.
            let whole = Limb {
                compliance: Compliance::ZERO,
                resistance: circuit.valve_resistance,
                disconnected: true,
            };
            let limb = circuit.limb.map_or(whole, |limb| Limb { disconnected: true, ..limb });
            circuit.limb = Some(limb);
        }
        Joint::SenseLine { line } => {
            cut_sense_line(circuit, Pressure::ZERO);
            let at = Pressure::cmh2o(1.0);
            let flow = 1000.0 / line.as_cmh2o_s_per_l();
            add_leak(circuit, Leak::linear(crate::quantity::Flow::ml_s(flow), at), 1.0);
        }
    }
}

pub(super) fn cut_sense_line(circuit: &mut Circuit, stays_at: Pressure) {
    circuit.sensor.place = SensorPlace::Cut(stays_at);
}

pub(super) fn obstruct_limb(circuit: &mut Circuit, adds: Resistance) {
    match &mut circuit.limb {
        Some(limb) => limb.resistance = limb.resistance + adds,
        None => circuit.valve_resistance = circuit.valve_resistance + adds,
    }
}
