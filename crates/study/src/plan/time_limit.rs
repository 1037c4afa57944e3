//! The inspiratory time limit: what stands between the patient and a flow that
//! goes on when the pressure is not told.

use tidewright::breath::Breath;
use tidewright::quantity::{Flow, Pressure, Seconds};
use tidewright::setup::{SensorPlace, Setup};

use super::settle::settle;
use super::{Goals, PlanError};

/// The limit is this many expected inspiratory times (common practice, no source).
pub const LIMIT_OVER_INSPIRATION: f64 = 1.5;
/// Most fresh gas that one inspiration may hold, mL/kg (common practice, no source).
pub const LARGE_LIMITED_VOLUME_ML_KG: f64 = 20.0;
/// A limit nearer to the expected time than this would end good breaths.
const NEAREST: f64 = 1.1;

/// A safe inspiratory time limit, and what happens when it is what ends the breath.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimeLimit {
    /// The limit: the shorter of the two below, but room enough for the breath wanted.
    pub limit: Seconds,
    /// 1.5 times the inspiratory time wanted.
    pub by_time: Seconds,
    /// When 20 mL of fresh gas for each kg have flowed.
    pub by_volume: Seconds,
    /// The settled breath if the pressure is never told and the limit ends it.
    pub if_never_told: Breath,
}

impl TimeLimit {
    /// Whether the limit lets through more than [`LARGE_LIMITED_VOLUME_ML_KG`],
    /// because the breath wanted needs the room.
    #[must_use]
    pub fn is_beyond_volume(&self) -> bool {
        self.limit > self.by_volume
    }
}

/// `setup` has its flow and expiratory time in place.
pub(super) fn time_limit(setup: &Setup, goals: &Goals) -> Result<TimeLimit, PlanError> {
    let Limits { limit, by_time, by_volume } = safe_limit(setup.ventilator.fresh_gas_flow, goals);
    let mut deaf = setup.clone();
    deaf.circuit.sensor.place = SensorPlace::Cut(Pressure::cmh2o(-1e6));
    deaf.ventilator.inspiratory_time_limit = limit;
    let if_never_told = settle(&deaf)?.1.breath;
    Ok(TimeLimit { limit, by_time, by_volume, if_never_told })
}

/// A safe limit and what it comes from.
pub(super) struct Limits {
    pub limit: Seconds,
    pub by_time: Seconds,
    pub by_volume: Seconds,
}

pub(super) fn safe_limit(fresh_gas_flow: Flow, goals: &Goals) -> Limits {
    let inspiratory_time = goals.inspiratory_time;
    let by_time = inspiratory_time * LIMIT_OVER_INSPIRATION;
    let most_ml = LARGE_LIMITED_VOLUME_ML_KG * goals.weight.as_kg();
    let by_volume = Seconds::s(most_ml / fresh_gas_flow.as_ml_s());
    let nearest = inspiratory_time * NEAREST;
    let shorter = if by_volume < by_time { by_volume } else { by_time };
    let limit = if shorter < nearest { nearest } else { shorter };
    Limits { limit, by_time, by_volume }
}
