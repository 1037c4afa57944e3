//! Faults of circuit, valve, sensor and supply.

use super::Fault;
use super::airway::narrowed;
use crate::base::math::exp;
use crate::base::quantity::{Compliance, Flow, Pressure, Resistance};
use crate::setup::{Circuit, Leak, Limb, PatientPort, SensorPlace, Valve, Ventilator};

/// `k2` of an outlet that states none, over its resistance, s/L: an outlet of 5
/// cmH2O·s/L gets 40 cmH2O·s²/L² (assumed). That is a seat of 4.5 mm bore on which
/// 1.5 velocity heads of oxygen are lost; both resistances grow as it gets narrower.
const FLUSHED_OUTLET_S_L: f64 = 8.0;

pub(super) fn put_into(
    fault: Fault,
    circuit: &mut Circuit,
    ventilator: &mut Ventilator,
    severity: f64,
) {
    let flow = ventilator.fresh_gas_flow;
    let offset = Pressure::cmh2o(5.0 * severity);
    match fault {
        Fault::CircuitLeak => {
            let at = Pressure::cmh2o(30.0);
            add_leak(circuit, Leak::linear(Flow::ml_s(150.0 * severity), at));
        }
        Fault::CircuitHole => {
            let at = Pressure::cmh2o(10.0);
            add_leak(circuit, Leak::orifice(Flow::ml_s(50.0 * severity), at));
        }
        Fault::PatientDisconnected => circuit.patient_port = PatientPort::Open,
        Fault::FreshGasHoseOff => {
            ventilator.fresh_gas_flow = Flow::ZERO;
            add_leak(circuit, Leak::linear(Flow::ml_s(200.0), Pressure::cmh2o(1.0)));
        }
        Fault::LimbDisconnected => {
            let none = Limb {
                compliance: Compliance::ZERO,
                resistance: Resistance::cmh2o_s_per_l(1.0),
                disconnected: false,
            };
            circuit.limb.get_or_insert(none).disconnected = true;
        }
        Fault::LimbBlocked => {
            let limb = circuit.limb.as_mut().map(|limb| &mut limb.resistance);
            let blocked = limb.unwrap_or(&mut circuit.valve_resistance);
            *blocked = narrowed(*blocked, 1.0 - severity);
        }
        Fault::ScavengingBlocked => {
            circuit.valve_resistance = narrowed(circuit.valve_resistance, 1.0 - severity);
        }
        Fault::WaterInLimb => {
            circuit.water_in_limb = circuit.water_in_limb + Pressure::cmh2o(10.0 * severity);
        }
        Fault::ValveStuckOpen => circuit.valve = Valve::StuckOpen,
        Fault::ValveStuckShut => circuit.valve = Valve::StuckShut,
        Fault::SenseLineOff => circuit.sensor.place = SensorPlace::Cut(Pressure::ZERO),
        Fault::SenseLineBlocked => {
            circuit.sensor.place = SensorPlace::Cut(ventilator.end_expiratory_pressure);
        }
        Fault::GaugeReadsHigh => circuit.sensor.offset = circuit.sensor.offset + offset,
        Fault::GaugeReadsLow => circuit.sensor.offset = circuit.sensor.offset - offset,
        Fault::FreshGasFailing => ventilator.fresh_gas_flow = flow * (1.0 - severity),
        Fault::CylinderEmptying => {
            let whole = 1.0 - exp(-4.0);
            let left = ((exp(-4.0 * severity) - exp(-4.0)) / whole).max(0.0);
            ventilator.fresh_gas_flow = flow * left;
        }
        Fault::OxygenFlush => {
            ventilator.fresh_gas_flow = flow + Flow::l_per_min(35.0) * severity;
            if circuit.outlet_k2 == 0.0 {
                circuit.outlet_k2 = FLUSHED_OUTLET_S_L * way_out(circuit).as_cmh2o_s_per_l();
            }
        }
        // Those of the patient and the tube are put in elsewhere.
        _ => {}
    }
}

/// Resistance of the open way out, limb and valve.
fn way_out(circuit: &Circuit) -> Resistance {
    let limb = circuit.limb.map_or(Resistance::ZERO, |limb| limb.resistance);
    circuit.valve_resistance + limb
}

/// Adds a leak to the one there.
fn add_leak(circuit: &mut Circuit, new: Leak) {
    let old = circuit.leak.filter(|old| old.flow > Flow::ZERO);
    circuit.leak = Some(old.map_or(new, |old| old.beside(new)));
}
