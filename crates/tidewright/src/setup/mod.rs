//! What is set: the patient's lung, the circuit, the ventilator. A [`Setup`]
//! never changes within a piece of a run; a timeline replaces it as a whole.

mod circuit;
mod effort;
mod error;
mod lung;
mod tail;
mod ventilator;

pub use circuit::{
    Circuit, FreshGasInlet, Leak, LeakLaw, Limb, PatientPort, Relief, Sensor, SensorPlace, Valve,
};
pub use effort::{Course, Effort, Segment};
pub(crate) use effort::{Drive, EffortClock};
pub(crate) use error::check;
pub use error::{MAX_COMPARTMENTS, SetupError};
pub use lung::{
    AirLeak, ChestWall, Compartment, Cuff, LeaksTo, Lung, PressureVolume, Tube, Viscoelastic,
};
pub use tail::{OPEN_PORT_RESISTANCE, ReservoirBag, Tail};
pub use ventilator::{Mode, Ventilator};

pub use crate::laws::law::{ElasticLaw, UserLaw};

/// Everything that a person sets or that the patient brings, constant between
/// two changes.
///
/// ```
/// use tidewright::prelude::*;
/// let mut setup = Setup::default();
/// setup.lung = Lung::single(Compliance::ml_per_cmh2o(6.0), Resistance::cmh2o_s_per_l(20.0));
/// setup.ventilator.fresh_gas_flow = Flow::l_per_min(2.0);
/// assert!(Machine::new(setup).is_ok());
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Setup {
    /// The patient's lung, airway and chest wall.
    pub lung: Lung,
    /// The patient's own effort.
    pub effort: Effort,
    /// Tubing, limb, outlet valve, leak, sensor.
    pub circuit: Circuit,
    /// The controls.
    pub ventilator: Ventilator,
}
