//! The controls of the ventilator.

use crate::base::quantity::{Flow, Pressure, Seconds};

/// The controls of a ventilator that is driven by the fresh gas flow.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Ventilator {
    /// Whether it ventilates or stands by with its valve open.
    pub mode: Mode,
    /// Constant fresh gas flow into the T-piece.
    pub fresh_gas_flow: Flow,
    /// Airway pressure that ends inspiration: inspiratory termination by pressure in
    /// the words of ISO 19223. Some machines label it trigger pressure; in that standard
    /// and elsewhere a trigger *starts* a breath. At or below the end-expiratory pressure
    /// every inspiration ends as it begins.
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
    /// Settings for the cat of 4.5 kg that [`Lung::default`](crate::setup::Lung) is:
    /// 10 mL/kg in 1.2 s, twice as long to breathe out, and a limit of 1.5 times the
    /// inspiration (common practice, no source).
    fn default() -> Self {
        Self {
            mode: Mode::Ventilating,
            fresh_gas_flow: Flow::l_per_min(2.2),
            cycling_pressure: Pressure::cmh2o(8.0),
            inspiratory_time_limit: Seconds::s(1.8),
            expiratory_time: Seconds::s(2.6),
            end_expiratory_pressure: Pressure::ZERO,
            valve_delay: Seconds::ZERO,
        }
    }
}

/// What the ventilator is doing as a whole.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Mode {
    /// Inspiration and expiration follow each other.
    #[default]
    Ventilating,
    /// The outlet valve stays open; the patient may breathe from the T-piece.
    Standby,
}
