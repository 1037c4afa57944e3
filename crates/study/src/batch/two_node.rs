//! The plain machine: one lung compartment, a compressible circuit, everything
//! linear. Two places hold gas, the T-piece and the lung.

use tidewright::quantity::{Compliance, Flow, Pressure, Resistance, Seconds};
use tidewright::setup::{Circuit, Leak, Lung, Sensor, Setup, Tube, Ventilator};

/// A plain machine, in the units of the solver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TwoNode {
    /// Of lung and chest wall together, mL/cmH2O; above 0.
    pub lung_compliance: f64,
    /// From the T-piece to the lung, tube included, cmH2O·s/L; above 0.
    pub airway_resistance: f64,
    /// Of the T-piece and its tubing, mL/cmH2O; above 0.
    pub circuit_compliance: f64,
    /// Of the leak, mL/s for each cmH2O; 0 for none.
    pub leak_conductance: f64,
    /// Of the open outlet valve, cmH2O·s/L; above 0.
    pub valve_resistance: f64,
    /// mL/s; 0 or more.
    pub fresh_gas_flow: f64,
    /// Airway pressure at which the sensor tells the cycling pressure, cmH2O.
    pub cycling_pressure: f64,
    /// s; 0 or more.
    pub inspiratory_time_limit: f64,
    /// s; above 0.
    pub expiratory_time: f64,
    /// cmH2O.
    pub end_expiratory_pressure: f64,
}

impl TwoNode {
    /// The plain machine of a setup, or `None` where the setup has anything that
    /// this one has not, or a value out of its range.
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// use tidewright_study::batch::TwoNode;
    /// let mut setup = Setup::default();
    /// assert!(TwoNode::of(&setup).is_some());
    /// setup.ventilator.valve_delay = Seconds::s(0.1);
    /// assert_eq!(TwoNode::of(&setup), None);
    /// ```
    #[must_use]
    pub fn of(setup: &Setup) -> Option<Self> {
        let (lung, circuit, ventilator) = (&setup.lung, &setup.circuit, &setup.ventilator);
        let part = lung.compartments.first()?;
        let tube = match lung.tube {
            Tube::None => Resistance::ZERO,
            Tube::Linear(resistance) => resistance,
            _ => return None,
        };
        // Everything that is read below, and nothing else. If that is the setup, then
        // nothing is lost.
        let read = Setup {
            lung: Lung { tube: lung.tube, ..Lung::single(part.compliance, part.resistance) },
            circuit: Circuit {
                compliance: circuit.compliance,
                valve_resistance: circuit.valve_resistance,
                leak: circuit.leak.map(|leak| Leak::linear(leak.flow, leak.at)),
                sensor: Sensor { offset: circuit.sensor.offset, ..Sensor::default() },
                ..Circuit::default()
            },
            ventilator: Ventilator {
                fresh_gas_flow: ventilator.fresh_gas_flow,
                cycling_pressure: ventilator.cycling_pressure,
                inspiratory_time_limit: ventilator.inspiratory_time_limit,
                expiratory_time: ventilator.expiratory_time,
                end_expiratory_pressure: ventilator.end_expiratory_pressure,
                ..Ventilator::default()
            },
            ..Setup::default()
        };
        let plain = Self {
            lung_compliance: part.compliance.as_ml_per_cmh2o(),
            airway_resistance: (part.resistance + tube).as_cmh2o_s_per_l(),
            circuit_compliance: circuit.compliance.as_ml_per_cmh2o(),
            leak_conductance: circuit.leak.map_or(0.0, |leak| leak.conductance_ml_s_per_cmh2o()),
            valve_resistance: circuit.valve_resistance.as_cmh2o_s_per_l(),
            fresh_gas_flow: ventilator.fresh_gas_flow.as_ml_s(),
            cycling_pressure: (ventilator.cycling_pressure - circuit.sensor.offset).as_cmh2o(),
            inspiratory_time_limit: ventilator.inspiratory_time_limit.as_s(),
            expiratory_time: ventilator.expiratory_time.as_s(),
            end_expiratory_pressure: ventilator.end_expiratory_pressure.as_cmh2o(),
        };
        (read == *setup && plain.is_sound()).then_some(plain)
    }

    /// Whether every value is in its range.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        const LARGEST: f64 = 1e6;
        let above_0 = [
            self.lung_compliance,
            self.airway_resistance,
            self.circuit_compliance,
            self.valve_resistance,
            self.expiratory_time,
        ];
        let from_0 = [self.leak_conductance, self.fresh_gas_flow, self.inspiratory_time_limit];
        let any = [self.cycling_pressure, self.end_expiratory_pressure];
        above_0.iter().all(|&x| (1e-6..=LARGEST).contains(&x))
            && from_0.iter().all(|&x| x == 0.0 || (1e-6..=LARGEST).contains(&x))
            && any.iter().all(|x| x.abs() <= LARGEST)
    }

    /// The same machine as a setup.
    #[must_use]
    pub fn setup(&self) -> Setup {
        let leak = Leak::linear(Flow::ml_s(self.leak_conductance), Pressure::cmh2o(1.0));
        Setup {
            lung: Lung::single(
                Compliance::ml_per_cmh2o(self.lung_compliance),
                Resistance::cmh2o_s_per_l(self.airway_resistance),
            ),
            circuit: Circuit {
                compliance: Compliance::ml_per_cmh2o(self.circuit_compliance),
                valve_resistance: Resistance::cmh2o_s_per_l(self.valve_resistance),
                leak: (self.leak_conductance > 0.0).then_some(leak),
                ..Circuit::default()
            },
            ventilator: Ventilator {
                fresh_gas_flow: Flow::ml_s(self.fresh_gas_flow),
                cycling_pressure: Pressure::cmh2o(self.cycling_pressure),
                inspiratory_time_limit: Seconds::s(self.inspiratory_time_limit),
                expiratory_time: Seconds::s(self.expiratory_time),
                end_expiratory_pressure: Pressure::cmh2o(self.end_expiratory_pressure),
                ..Ventilator::default()
            },
            ..Setup::default()
        }
    }
}
