//! A settled inspiration, accounted for: where its gas went and what its
//! pressure is made of.

use tidewright::machine::{Machine, Signal};
use tidewright::phase::PhaseKind;
use tidewright::quantity::{Pressure, Seconds, Volume};
use tidewright::steady::{Periodic, SteadyError};
use tidewright::step::step;

/// Where the fresh gas of one inspiration went; the parts add up to `fresh`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GasBalance {
    /// Fresh gas flow × inspiratory time.
    pub fresh: Volume,
    /// Into the lung: the inspired tidal volume.
    pub into_lung: Volume,
    /// Into the compressible circuit.
    pub into_circuit: Volume,
    /// Out through leaks.
    pub leaked: Volume,
    /// By any other way: a relief valve, an outlet that does not shut, an open port.
    pub elsewhere: Volume,
}

/// What the sensed pressure at one instant of an inspiration is made of; the
/// parts add up to `sensed`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PressureBalance {
    /// What the ventilator's sensor tells.
    pub sensed: Pressure,
    /// Held by the end-expiratory pressure device.
    pub device: Pressure,
    /// Held back at the T-piece, at the end of expiration, by the fresh gas that
    /// flows out through the limb and the open valve.
    pub back_pressure: Pressure,
    /// Left in the lung above that at the end of expiration: trapped gas.
    pub trapped: Pressure,
    /// Taken up by the lung as it was filled: about volume over compliance.
    pub elastic: Pressure,
    /// Lost along tube and airway at that instant: about resistance × flow.
    pub resistive: Pressure,
    /// What the sensor adds, by its place or its fault.
    pub sensor: Pressure,
}

/// Accounts for the inspiration of a settled breath. The pressure is taken `early`
/// before its end: when the sensor tells what the valve will have done after its
/// delay.
pub(crate) fn account(
    machine: &Machine,
    settled: &Periodic,
    early: Seconds,
) -> Result<(GasBalance, PressureBalance), SteadyError> {
    let inspiration_s = settled.breath.inspiratory_time.as_s();
    let told_at_s = (inspiration_s - early.as_s()).max(0.0);
    let mut moment = settled.start;
    let mut at_start: Option<[f64; 4]> = None;
    let (mut at_end, mut told) = ([0.0; 4], [0.0; 4]);
    let mut leaked = 0.0;
    loop {
        let done = step(machine, &moment, f64::INFINITY)?;
        let piece = &done.piece;
        if !piece.phase.is_inspiration() {
            break;
        }
        at_start.get_or_insert_with(|| SEEN.map(|signal| piece.first(signal)));
        at_end = SEEN.map(|signal| piece.last(signal));
        leaked += piece.integral(Signal::LeakFlow);
        let local_s = told_at_s - piece.start_s;
        if (0.0..=piece.duration_s).contains(&local_s) {
            told = if local_s == piece.duration_s {
                at_end
            } else {
                SEEN.map(|signal| piece.nearest(signal, local_s))
            };
        }
        moment = done.next;
        if moment.phase == PhaseKind::Expiration {
            break;
        }
    }
    let at_start = at_start.unwrap_or_default();
    let [circuit_start, _, _, _] = at_start;
    let [circuit_end, _, _, _] = at_end;
    let [_, sensed, airway, alveolar] = told;

    let fresh =
        (machine.setup().ventilator.fresh_gas_flow * settled.breath.inspiratory_time).as_ml();
    let into_lung = settled.breath.inspired_tidal_volume.as_ml();
    let into_circuit = circuit_end - circuit_start;
    let gas = GasBalance {
        fresh: Volume::ml(fresh),
        into_lung: Volume::ml(into_lung),
        into_circuit: Volume::ml(into_circuit),
        leaked: Volume::ml(leaked),
        elsewhere: Volume::ml(fresh - into_lung - into_circuit - leaked),
    };

    let device = machine.setup().ventilator.end_expiratory_pressure.as_cmh2o();
    let baseline = settled.breath.baseline_pressure.as_cmh2o();
    let alveolar_before = settled.breath.end_expiratory_alveolar_pressure.as_cmh2o();
    let pressure = PressureBalance {
        sensed: Pressure::cmh2o(sensed),
        device: Pressure::cmh2o(device),
        back_pressure: Pressure::cmh2o(baseline - device),
        trapped: Pressure::cmh2o(alveolar_before - baseline),
        elastic: Pressure::cmh2o(alveolar - alveolar_before),
        resistive: Pressure::cmh2o(airway - alveolar),
        sensor: Pressure::cmh2o(sensed - airway),
    };
    Ok((gas, pressure))
}

const SEEN: [Signal; 4] = [
    Signal::CircuitVolume,
    Signal::SensedPressure,
    Signal::AirwayPressure,
    Signal::AlveolarPressure,
];
