//! What is set: the patient's lung, the circuit, the ventilator. A [`Setup`]
//! never changes within a piece of a run; a timeline replaces it as a whole.

use crate::quantity::{Compliance, Flow, Pressure, Resistance, Seconds};

/// Everything that a person sets or that the patient brings, constant between
/// two changes.
///
/// ```
/// use tidewright::prelude::*;
/// let mut setup = Setup::default();
/// setup.lung = Lung::single(Compliance::ml_per_cmh2o(6.0), Resistance::cmh2o_s_per_l(20.0));
/// setup.ventilator.fresh_gas_flow = Flow::l_per_min(1.2);
/// assert!(Machine::new(setup).is_ok());
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Setup {
    /// The patient's lung and airway.
    pub lung: Lung,
    /// Tubing, outlet valve, leak.
    pub circuit: Circuit,
    /// The controls.
    pub ventilator: Ventilator,
}

/// A lung of one or more compartments in parallel behind one breathing tube.
#[derive(Clone, Debug, PartialEq)]
pub struct Lung {
    /// The compartments, 1 to 6.
    pub compartments: Vec<Compartment>,
    /// Resistance shared by all compartments (breathing tube and large airway);
    /// zero for none.
    pub tube_resistance: Resistance,
}

/// A part of the lung that fills and empties as one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compartment {
    /// Volume taken up for each unit of alveolar pressure; above 0.
    pub compliance: Compliance,
    /// Resistance of the airway that leads to it; above 0.
    pub resistance: Resistance,
}

impl Lung {
    /// A lung of one compartment.
    #[must_use]
    pub fn single(compliance: Compliance, resistance: Resistance) -> Self {
        Self {
            compartments: vec![Compartment { compliance, resistance }],
            tube_resistance: Resistance::ZERO,
        }
    }

    /// Sum of the compartments' compliances: what a very slow breath would show.
    #[must_use]
    pub fn total_compliance(&self) -> Compliance {
        self.compartments.iter().fold(Compliance::ZERO, |sum, part| sum + part.compliance)
    }
}

impl Default for Lung {
    /// A cat of 4 kg: 6 mL/cmH2O and 20 cmH2O·s/L, tube included.
    fn default() -> Self {
        Self::single(Compliance::ml_per_cmh2o(6.0), Resistance::cmh2o_s_per_l(20.0))
    }
}

/// The breathing circuit from the T-piece to the outlet valve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circuit {
    /// Gas taken up by tubing and by compression, mL/cmH2O; 0 means rigid.
    pub compliance: Compliance,
    /// Resistance of the open outlet path, limb and valve; above 0.
    pub valve_resistance: Resistance,
    /// A hole in the circuit, if there is one.
    pub leak: Option<Leak>,
    /// What the patient port is connected to.
    pub patient_port: PatientPort,
}

impl Default for Circuit {
    /// A short neonatal-size circuit without a leak.
    fn default() -> Self {
        Self {
            compliance: Compliance::ml_per_cmh2o(0.15),
            valve_resistance: Resistance::cmh2o_s_per_l(5.0),
            leak: None,
            patient_port: PatientPort::Connected,
        }
    }
}

/// What the patient port of the T-piece is connected to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PatientPort {
    /// The patient's tube.
    #[default]
    Connected,
    /// A thumb or a cap: no gas passes.
    Blocked,
    /// Nothing: the port is open to the room and the patient is off.
    Open,
}

/// A leak to the atmosphere, stated as a leak test states it: the flow that
/// escapes at one pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leak {
    /// Flow that escapes at the stated pressure.
    pub flow: Flow,
    /// The pressure of the statement; above 0.
    pub at: Pressure,
}

impl Leak {
    /// Conductance of a linear leak, mL/s for each cmH2O.
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// // 300 mL/min at 30 cmH2O lets 1/6 mL/s escape for each cmH2O.
    /// let leak = Leak { flow: Flow::ml_s(300.0 / 60.0), at: Pressure::cmh2o(30.0) };
    /// assert!((leak.conductance_ml_s_per_cmh2o() - 1.0 / 6.0).abs() < 1e-15);
    /// ```
    #[must_use]
    pub fn conductance_ml_s_per_cmh2o(&self) -> f64 {
        self.flow.as_ml_s() / self.at.as_cmh2o()
    }
}

/// The controls of a ventilator that is driven by the fresh gas flow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ventilator {
    /// Whether it ventilates or stands by with its valve open.
    pub mode: Mode,
    /// Constant fresh gas flow into the T-piece.
    pub fresh_gas_flow: Flow,
    /// Airway pressure that ends inspiration (trigger pressure on some
    /// machines; inspiratory termination by pressure in ISO 19223).
    pub cycling_pressure: Pressure,
    /// Longest inspiration allowed when the pressure is not reached.
    pub inspiratory_time_limit: Seconds,
    /// Time that the outlet valve stays open.
    pub expiratory_time: Seconds,
    /// Pressure held by the end-expiratory pressure device behind the valve.
    pub end_expiratory_pressure: Pressure,
    /// Time from reaching the cycling pressure to the opening of the valve.
    pub valve_delay: Seconds,
}

impl Default for Ventilator {
    fn default() -> Self {
        Self {
            mode: Mode::Ventilating,
            fresh_gas_flow: Flow::l_per_min(1.2),
            cycling_pressure: Pressure::cmh2o(10.0),
            inspiratory_time_limit: Seconds::s(3.0),
            expiratory_time: Seconds::s(1.2),
            end_expiratory_pressure: Pressure::ZERO,
            valve_delay: Seconds::ZERO,
        }
    }
}

/// What the ventilator is doing as a whole.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Mode {
    /// Inspiration and expiration follow each other.
    #[default]
    Ventilating,
    /// The outlet valve stays open; the patient may breathe from the T-piece.
    Standby,
}
