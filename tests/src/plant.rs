//! The plant as differential equations, stated a second time and in another way
//! than the engine states it: by flows at each instant, with no modes, for
//! solvers that step. Rigid circuits and branching airways are solved for their
//! pressure at each instant.

use tidewright::machine::OPEN_PORT_RESISTANCE;
use tidewright::prelude::*;

/// The plant with its outlet valve in one position.
///
/// Its state is the alveolar pressure of each compartment and, if the circuit
/// is compressible, the circuit pressure after them, cmH2O.
#[derive(Clone, Debug)]
pub struct Plant {
    compartments: Vec<(f64, f64)>,
    tube: Option<f64>,
    circuit: f64,
    valve: f64,
    leak: f64,
    port: PatientPort,
    flow: f64,
    peep: f64,
}

impl Plant {
    /// The plant of a setup.
    #[must_use]
    pub fn new(setup: &Setup, valve_is_open: bool) -> Self {
        let conductance = |resistance: Resistance| 1000.0 / resistance.as_cmh2o_s_per_l();
        Self {
            compartments: setup
                .lung
                .compartments
                .iter()
                .map(|part| (part.compliance.as_ml_per_cmh2o(), conductance(part.resistance)))
                .collect(),
            tube: match setup.lung.tube {
                Tube::Linear(resistance) => Some(conductance(resistance)),
                _ => None,
            },
            circuit: setup.circuit.compliance.as_ml_per_cmh2o(),
            valve: if valve_is_open { conductance(setup.circuit.valve_resistance) } else { 0.0 },
            leak: setup.circuit.leak.map_or(0.0, |leak| leak.flow.as_ml_s() / leak.at.as_cmh2o()),
            port: setup.circuit.patient_port,
            flow: setup.ventilator.fresh_gas_flow.as_ml_s(),
            peep: setup.ventilator.end_expiratory_pressure.as_cmh2o(),
        }
    }

    /// Length of the state.
    #[must_use]
    pub fn size(&self) -> usize {
        self.compartments.len() + usize::from(self.circuit > 0.0)
    }

    /// The state with all gas at the end-expiratory pressure.
    #[must_use]
    pub fn at_rest(&self) -> Vec<f64> {
        vec![self.peep; self.size()]
    }

    /// Pressure at the T-piece, cmH2O.
    #[must_use]
    pub fn airway_pressure(&self, state: &[f64]) -> f64 {
        if self.circuit > 0.0 {
            return state[self.compartments.len()];
        }
        // What flows in flows out: flow = leak + valve + lung, all linear in p.
        let (lung, drawn) = match self.port {
            PatientPort::Connected => self.lung_as_seen(state),
            PatientPort::Blocked => (0.0, 0.0),
            PatientPort::Open => (1000.0 / OPEN_PORT_RESISTANCE.as_cmh2o_s_per_l(), 0.0),
        };
        (self.flow + self.valve * self.peep + drawn) / (self.leak + self.valve + lung)
    }

    /// Gas in the lung above its relaxed volume, mL.
    #[must_use]
    pub fn lung_volume(&self, state: &[f64]) -> f64 {
        self.compartments.iter().zip(state).map(|((compliance, _), p)| compliance * p).sum()
    }

    /// Writes the rate of change of each part of the state, cmH2O/s.
    pub fn rates(&self, state: &[f64], rates: &mut [f64]) {
        let airway = self.airway_pressure(state);
        let mouth = if self.port == PatientPort::Open { 0.0 } else { airway };
        let (seen, drawn) = self.lung_as_seen(state);
        let connected = self.port != PatientPort::Blocked;
        let into_lung = if connected { seen * mouth - drawn } else { 0.0 };
        let carina = self.tube.map_or(mouth, |tube| mouth - into_lung / tube);
        for (i, &(compliance, g)) in self.compartments.iter().enumerate() {
            rates[i] = if connected { g * (carina - state[i]) / compliance } else { 0.0 };
        }
        if self.circuit > 0.0 {
            let out = match self.port {
                PatientPort::Connected => into_lung,
                PatientPort::Blocked => 0.0,
                PatientPort::Open => airway * 1000.0 / OPEN_PORT_RESISTANCE.as_cmh2o_s_per_l(),
            };
            let lost = self.leak * airway + self.valve * (airway - self.peep);
            rates[self.compartments.len()] = (self.flow - out - lost) / self.circuit;
        }
    }

    /// The lung from its mouth: flow into it = first · pressure − second.
    fn lung_as_seen(&self, state: &[f64]) -> (f64, f64) {
        let sum: f64 = self.compartments.iter().map(|part| part.1).sum();
        let drawn: f64 = self.compartments.iter().zip(state).map(|((_, g), p)| g * p).sum();
        match self.tube {
            Some(tube) => (tube * sum / (tube + sum), tube * drawn / (tube + sum)),
            None => (sum, drawn),
        }
    }
}
