//! Settings for wanted breaths: which fresh gas flow, cycling pressure and
//! expiratory time give a tidal volume, an inspiratory time and a rate.
//!
//! The settings come from the model itself. Held at the wanted inspiratory time,
//! tidal volume rises with the flow, so one equation in one unknown gives the flow;
//! the pressure that the sensor then tells at the end of inspiration is the cycling
//! pressure; and the rate leaves the expiratory time. Beside them stand what a
//! person works out in the head ([`RuleOfThumb`]) and every part of the difference.
//!
//! These are practice values for simulated animals, never settings for a real one.

mod end_tidal;
mod error;
mod json;
mod sensitivity;
mod settle;
mod solve;
mod text;
mod time_limit;

use tidewright::breath::Breath;
use tidewright::quantity::{Compliance, Flow, Mass, Pressure, Seconds, Volume};
use tidewright::setup::{Setup, Ventilator};

pub use crate::inspiration::{GasBalance, PressureBalance};
pub use end_tidal::{Breathed, EndTidal, plan_end_tidal};
pub use error::{Infeasible, Obstacle, PlanError};
pub use json::{infeasible_json, json};
pub use sensitivity::{Effect, Sensitivity};
pub use solve::{plan, settings_by_rule};
pub use text::{infeasible_text, text};
pub use time_limit::{LARGE_LIMITED_VOLUME_ML_KG, LIMIT_OVER_INSPIRATION, TimeLimit};

/// The part of a breath that inspiration takes where nobody says: one to two
/// (common practice, no source).
pub const USUAL_INSPIRATORY_SHARE: f64 = 1.0 / 3.0;

/// What is wanted of the breaths.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Goals {
    /// Body weight; above 0.
    pub weight: Mass,
    /// Tidal volume for each kg of it, mL/kg; above 0.
    pub tidal_volume_ml_kg: f64,
    /// From the start of inspiration to the opening of the valve; above 0.
    pub inspiratory_time: Seconds,
    /// How fast to breathe.
    pub pace: Pace,
    /// The airway pressure that must not be passed; above the end-expiratory pressure.
    pub pressure_ceiling: Pressure,
    /// The most that the flowmeter, or the design, can give; above 0.
    pub largest_fresh_gas_flow: Flow,
}

impl Default for Goals {
    /// A cat of 4 kg: 10 mL/kg in 1.5 s, 15 breaths a minute, at most 20 cmH2O
    /// and 10 L/min (common practice, no source).
    fn default() -> Self {
        Self {
            weight: Mass::kg(4.0),
            tidal_volume_ml_kg: 10.0,
            inspiratory_time: Seconds::s(1.5),
            pace: Pace::Rate { per_min: 15.0 },
            pressure_ceiling: Pressure::cmh2o(20.0),
            largest_fresh_gas_flow: Flow::l_per_min(10.0),
        }
    }
}

impl Goals {
    /// The tidal volume.
    #[must_use]
    pub fn tidal_volume(&self) -> Volume {
        Volume::ml(self.tidal_volume_ml_kg * self.weight.as_kg())
    }

    /// Breaths a minute.
    #[must_use]
    pub fn rate_per_min(&self) -> f64 {
        match self.pace {
            Pace::Rate { per_min } => per_min,
            Pace::MinuteVolume { ml_min_kg } => ml_min_kg / self.tidal_volume_ml_kg,
            Pace::EndTidal(goal) => goal.rate_per_min(self.tidal_volume()),
        }
    }

    /// The same goals with the usual share of a breath for inspiration.
    ///
    /// ```
    /// use tidewright_study::plan::Goals;
    /// let goals = Goals::default().with_usual_inspiration(); // 15 breaths a minute
    /// assert!((goals.inspiratory_time.as_s() - 4.0 / 3.0).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn with_usual_inspiration(self) -> Self {
        let breath = Seconds::s(60.0 / self.rate_per_min());
        Self { inspiratory_time: breath * USUAL_INSPIRATORY_SHARE, ..self }
    }

    /// What is left of a breath for expiration; below 0 where the breath is too short.
    #[must_use]
    pub fn expiratory_time(&self) -> Seconds {
        Seconds::s(60.0 / self.rate_per_min()) - self.inspiratory_time
    }
}

/// How fast to breathe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pace {
    /// So many breaths a minute; above 0.
    Rate {
        /// Breaths a minute.
        per_min: f64,
    },
    /// As fast as it takes to move so much gas.
    MinuteVolume {
        /// Gas for each minute and kg of weight, mL/(min·kg); above 0.
        ml_min_kg: f64,
    },
    /// As fast as it takes to keep end-tidal carbon dioxide.
    EndTidal(EndTidal),
}

/// Settings that meet the goals, and why they are what they are.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// What was wanted.
    pub goals: Goals,
    /// The patient and the equipment with the settings in place.
    pub setup: Setup,
    /// The breath that these settings settle to.
    pub breath: Breath,
    /// What a person works out in the head.
    pub rule_of_thumb: RuleOfThumb,
    /// Where the fresh gas of one inspiration goes: why the flow differs.
    pub gas: GasBalance,
    /// What the cycling pressure is made of: why it differs.
    pub pressure: PressureBalance,
    /// What each control changes.
    pub sensitivity: Sensitivity,
    /// The safe time limit and what it protects from.
    pub time_limit: TimeLimit,
    /// What the gas settles to, where that was asked for: see [`plan_end_tidal`].
    pub end_tidal: Option<Breathed>,
}

impl Plan {
    /// The settings.
    #[must_use]
    pub fn ventilator(&self) -> &Ventilator {
        &self.setup.ventilator
    }
}

/// Settings as worked out in the head: a lung alone, no circuit, no resistance, no
/// leak (common practice, no source).
///
/// ```
/// use tidewright::prelude::*;
/// use tidewright_study::plan::{Goals, Pace, RuleOfThumb};
/// let goals = Goals {
///     weight: Mass::kg(4.5),
///     tidal_volume_ml_kg: 10.0,
///     inspiratory_time: Seconds::s(1.25),
///     pace: Pace::Rate { per_min: 16.0 },
///     ..Goals::default()
/// };
/// let rule = RuleOfThumb::of(&goals, Compliance::ml_per_cmh2o(6.0), Pressure::ZERO);
/// assert!((rule.fresh_gas_flow.as_l_per_min() - 2.16).abs() < 1e-12); // 45 mL in 1.25 s
/// assert!((rule.expiratory_time.as_s() - 2.5).abs() < 1e-12);
/// assert_eq!(rule.cycling_pressure, Pressure::cmh2o(7.5));
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RuleOfThumb {
    /// Tidal volume over inspiratory time.
    pub fresh_gas_flow: Flow,
    /// Tidal volume over compliance, on top of the end-expiratory pressure.
    pub cycling_pressure: Pressure,
    /// 60 over the rate, less the inspiratory time.
    pub expiratory_time: Seconds,
    /// The breath that these settings would settle to, where they settle.
    pub breath: Option<Breath>,
}

impl RuleOfThumb {
    /// The rule for a compliance of the respiratory system; its breath not yet known.
    #[must_use]
    pub fn of(goals: &Goals, compliance: Compliance, end_expiratory_pressure: Pressure) -> Self {
        let tidal_volume = goals.tidal_volume().as_ml();
        let elastic = Pressure::cmh2o(tidal_volume / compliance.as_ml_per_cmh2o());
        Self {
            fresh_gas_flow: Flow::ml_s(tidal_volume / goals.inspiratory_time.as_s()),
            cycling_pressure: end_expiratory_pressure + elastic,
            expiratory_time: goals.expiratory_time(),
            breath: None,
        }
    }
}
