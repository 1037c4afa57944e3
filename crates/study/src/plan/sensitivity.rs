//! What each control changes, as derivatives of the settled breath.

use tidewright::breath::Breath;
use tidewright::quantity::{Flow, Pressure, Seconds};
use tidewright::setup::{Setup, Ventilator};

use super::PlanError;
use super::settle::settle;

/// Step of the central differences, relative: their error is its square.
const STEP: f64 = 1e-3;

/// What a small turn of each control changes in the settled breath.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sensitivity {
    /// For each L/min of fresh gas flow.
    pub per_l_min: Effect,
    /// For each cmH2O of cycling pressure.
    pub per_cmh2o: Effect,
    /// For each second of expiratory time.
    pub per_s: Effect,
}

/// The change of each result for one unit of a control.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effect {
    /// Inspired tidal volume, mL.
    pub tidal_volume_ml: f64,
    /// Inspiratory time, s.
    pub inspiratory_time_s: f64,
    /// Rate, 1/min.
    pub rate_per_min: f64,
    /// Peak airway pressure, cmH2O.
    pub peak_pressure_cmh2o: f64,
}

pub(super) fn sensitivity(setup: &Setup) -> Result<Sensitivity, PlanError> {
    let ventilator = &setup.ventilator;
    Ok(Sensitivity {
        per_l_min: effect(setup, ventilator.fresh_gas_flow.as_l_per_min(), |to, value| {
            to.fresh_gas_flow = Flow::l_per_min(value);
        })?,
        per_cmh2o: effect(setup, ventilator.cycling_pressure.as_cmh2o(), |to, value| {
            to.cycling_pressure = Pressure::cmh2o(value);
        })?,
        per_s: effect(setup, ventilator.expiratory_time.as_s(), |to, value| {
            to.expiratory_time = Seconds::s(value);
        })?,
    })
}

fn effect(setup: &Setup, at: f64, set: impl Fn(&mut Ventilator, f64)) -> Result<Effect, PlanError> {
    let step = STEP * at.abs();
    let breath = |value: f64| -> Result<Breath, PlanError> {
        let mut turned = setup.clone();
        set(&mut turned.ventilator, value);
        Ok(settle(&turned)?.1.breath)
    };
    let (less, more) = (breath(at - step)?, breath(at + step)?);
    let pace = |of: fn(&Breath) -> f64| (of(&more) - of(&less)) / (2.0 * step);
    Ok(Effect {
        tidal_volume_ml: pace(|breath| breath.inspired_tidal_volume.as_ml()),
        inspiratory_time_s: pace(|breath| breath.inspiratory_time.as_s()),
        rate_per_min: pace(Breath::rate_per_min),
        peak_pressure_cmh2o: pace(|breath| breath.peak_pressure.as_cmh2o()),
    })
}
