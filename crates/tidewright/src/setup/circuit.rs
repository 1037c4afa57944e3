//! The breathing circuit: tubing, limb, outlet valve, leak, patient port, sensor.

use super::tail::Tail;
use crate::base::quantity::{Compliance, Flow, Pressure, Resistance};

/// The breathing circuit from the T-piece to the outlet valve.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Circuit {
    /// Gas taken up at the T-piece by tubing and by compression, mL/cmH2O; 0
    /// means rigid.
    pub compliance: Compliance,
    /// Resistance of the open outlet path: the valve, and the limb too unless
    /// `limb` describes it; above 0.
    pub valve_resistance: Resistance,
    /// What the open way out, limb and valve together, resists beyond proportion:
    /// `k2` of Δp = R·Q + k₂·Q·|Q| (Rohrer's form) with Q in L/s, cmH2O·s²/L²; 0 or
    /// more.
    ///
    /// With 0 the outlet is linear and the exact road is open. At the flows of
    /// ordinary ventilation the rest hardly counts: 40 cmH2O·s²/L² are 0.05 cmH2O at
    /// 2 L/min. It is the oxygen flush that shows it, see
    /// [`Fault::OxygenFlush`](crate::fault::Fault::OxygenFlush).
    pub outlet_k2: f64,
    /// Whether the outlet valve obeys.
    pub valve: Valve,
    /// Whether a check keeps gas from flowing back through the outlet.
    pub backflow_check: bool,
    /// Column of water that the outflow must bubble through, cmH2O; 0 for none.
    pub water_in_limb: Pressure,
    /// The expiratory limb between T-piece and valve, where it matters.
    pub limb: Option<Limb>,
    /// A hole in the circuit, if there is one.
    pub leak: Option<Leak>,
    /// A relief valve at the T-piece, if there is one.
    pub relief: Option<Relief>,
    /// What the patient port is connected to.
    pub patient_port: PatientPort,
    /// What the ventilator's pressure sensor tells.
    pub sensor: Sensor,
    /// Where the fresh gas enters.
    pub inlet: FreshGasInlet,
    /// What is joined to the ventilator's outlet, behind its valve; `None` for the
    /// room.
    pub tail: Option<Tail>,
}

/// Where fresh gas enters.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum FreshGasInlet {
    /// At the T-piece, near the patient.
    #[default]
    Patient,
    /// At the machine end of the limb, beside the outlet.
    Machine,
}

impl Default for Circuit {
    /// A short neonatal-size circuit without a leak.
    fn default() -> Self {
        Self {
            compliance: Compliance::ml_per_cmh2o(0.15),
            valve_resistance: Resistance::cmh2o_s_per_l(5.0),
            outlet_k2: 0.0,
            valve: Valve::Working,
            backflow_check: false,
            water_in_limb: Pressure::ZERO,
            limb: None,
            leak: None,
            relief: None,
            patient_port: PatientPort::Connected,
            sensor: Sensor::default(),
            inlet: FreshGasInlet::Patient,
            tail: None,
        }
    }
}

/// Whether the outlet valve obeys.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Valve {
    /// Shut in inspiration, open in expiration and standby.
    #[default]
    Working,
    /// Never shuts.
    StuckOpen,
    /// Never opens.
    StuckShut,
}

/// An expiratory limb with gas and walls of its own.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Limb {
    /// Its compliance, mL/cmH2O; 0 means rigid.
    pub compliance: Compliance,
    /// Its resistance from T-piece to valve; above 0.
    pub resistance: Resistance,
    /// Whether it is pulled off at the valve and open to the room there.
    pub disconnected: bool,
}

/// A relief valve: shut below its pressure, open in proportion above it.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Relief {
    /// Pressure at which it begins to open.
    pub opens_at: Pressure,
    /// Resistance once open; above 0.
    pub resistance: Resistance,
}

/// What the patient port of the T-piece is connected to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
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
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Leak {
    /// Flow that escapes at the stated pressure.
    pub flow: Flow,
    /// The pressure of the statement; above 0.
    pub at: Pressure,
    /// How flow follows pressure.
    pub law: LeakLaw,
}

/// How the flow through a leak follows pressure.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum LeakLaw {
    /// In proportion: a long thin gap.
    #[default]
    Linear,
    /// With the square root of pressure: a sharp-edged hole.
    Orifice,
}

impl Leak {
    /// A linear leak of `flow` at the pressure `at`.
    #[must_use]
    pub fn linear(flow: Flow, at: Pressure) -> Self {
        Self { flow, at, law: LeakLaw::Linear }
    }

    /// A leak through a hole that passes `flow` at the pressure `at`.
    #[must_use]
    pub fn orifice(flow: Flow, at: Pressure) -> Self {
        Self { flow, at, law: LeakLaw::Orifice }
    }

    /// Flow that escapes at a pressure of 0 or more.
    #[must_use]
    pub fn flow_at(&self, pressure: Pressure) -> Flow {
        let ratio = pressure.as_cmh2o() / self.at.as_cmh2o();
        self.flow
            * match self.law {
                LeakLaw::Linear => ratio,
                LeakLaw::Orifice => ratio.sqrt(),
            }
    }

    /// This leak with another beside it. Where their laws differ, the larger one at 10
    /// cmH2O gives the law and the sum of both there its size.
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// let at = Pressure::cmh2o(10.0);
    /// let both = Leak::linear(Flow::ml_s(2.0), at).beside(Leak::orifice(Flow::ml_s(3.0), at));
    /// assert_eq!((both.flow, both.law), (Flow::ml_s(5.0), LeakLaw::Orifice));
    /// ```
    #[must_use]
    pub fn beside(self, other: Self) -> Self {
        let at = Pressure::cmh2o(10.0);
        let flows = [self, other].map(|leak| leak.flow_at(at));
        let law = if flows[0] > flows[1] { self.law } else { other.law };
        Self { flow: flows[0] + flows[1], at, law }
    }

    /// Flow over pressure at the stated pressure, mL/s for each cmH2O; the
    /// conductance of a linear leak.
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// // 300 mL/min at 30 cmH2O lets 1/6 mL/s escape for each cmH2O.
    /// let leak = Leak::linear(Flow::ml_s(300.0 / 60.0), Pressure::cmh2o(30.0));
    /// assert!((leak.conductance_ml_s_per_cmh2o() - 1.0 / 6.0).abs() < 1e-15);
    /// ```
    #[must_use]
    pub fn conductance_ml_s_per_cmh2o(&self) -> f64 {
        self.flow.as_ml_s() / self.at.as_cmh2o()
    }
}

/// What the ventilator's pressure sensor tells.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Sensor {
    /// Where it is.
    pub place: SensorPlace,
    /// What it adds to the true pressure.
    pub offset: Pressure,
    /// Share of the true pressure that reaches it, above 0, at most 1: less than 1
    /// where its line is split.
    pub share: f64,
}

/// Where the ventilator senses pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum SensorPlace {
    /// At the patient connection.
    PatientConnection,
    /// At the valve end of the limb.
    ValveEnd,
    /// Nowhere: the line is off or blocked, and the sensor stays at this pressure.
    Cut(Pressure),
}

impl Default for Sensor {
    fn default() -> Self {
        Self { place: SensorPlace::PatientConnection, offset: Pressure::ZERO, share: 1.0 }
    }
}
