//! A plan, or why there is none, as one JSON object in full precision.

use serde_json::{Value, json};
use tidewright::breath::Breath;
use tidewright::quantity::Mass;
use tidewright::setup::Ventilator;

use super::{Effect, Goals, Infeasible, Pace, Plan};
use crate::CAUTION;
use crate::{Metric, ended_by};

/// A plan as a JSON object. Every key carries its unit; `met` is `true`.
#[must_use]
pub fn json(plan: &Plan) -> Value {
    let (rule, gas, pressure) = (&plan.rule_of_thumb, &plan.gas, &plan.pressure);
    let breath_of = |breath: &Breath| breath_object(breath, plan.goals.weight);
    let limit = &plan.time_limit;
    json!({
        "met": true,
        "goals": goals_object(&plan.goals),
        "settings": settings(plan.ventilator()),
        "breath": breath_of(&plan.breath),
        "rule_of_thumb": {
            "fresh_gas_flow_l_min": rule.fresh_gas_flow.as_l_per_min(),
            "cycling_pressure_cmh2o": rule.cycling_pressure.as_cmh2o(),
            "expiratory_time_s": rule.expiratory_time.as_s(),
            "breath": rule.breath.as_ref().map(breath_of),
        },
        "gas_of_one_inspiration": {
            "fresh_ml": gas.fresh.as_ml(),
            "into_lung_ml": gas.into_lung.as_ml(),
            "into_circuit_ml": gas.into_circuit.as_ml(),
            "leaked_ml": gas.leaked.as_ml(),
            "elsewhere_ml": gas.elsewhere.as_ml(),
        },
        "cycling_pressure_parts": {
            "device_cmh2o": pressure.device.as_cmh2o(),
            "back_pressure_cmh2o": pressure.back_pressure.as_cmh2o(),
            "trapped_cmh2o": pressure.trapped.as_cmh2o(),
            "elastic_cmh2o": pressure.elastic.as_cmh2o(),
            "resistive_cmh2o": pressure.resistive.as_cmh2o(),
            "sensor_cmh2o": pressure.sensor.as_cmh2o(),
            "sensed_cmh2o": pressure.sensed.as_cmh2o(),
        },
        "sensitivity": {
            "for_each_l_min_of_flow": effect(&plan.sensitivity.per_l_min),
            "for_each_cmh2o_of_cycling_pressure": effect(&plan.sensitivity.per_cmh2o),
            "for_each_s_of_expiratory_time": effect(&plan.sensitivity.per_s),
        },
        "time_limit": {
            "by_time_s": limit.by_time.as_s(),
            "by_volume_s": limit.by_volume.as_s(),
            "breath_if_never_told": breath_of(&limit.if_never_told),
        },
        "settled_gas": plan.end_tidal.map(|gas| json!({
            "end_tidal_co2_mmhg": gas.carbon_dioxide.as_mmhg(),
            "arterial_co2_mmhg": gas.arterial_carbon_dioxide.as_mmhg(),
            "mean_inspired_co2_mmhg": gas.mean_inspired_carbon_dioxide.as_mmhg(),
        })),
        "caution": CAUTION,
    })
}

/// Goals that cannot be met as a JSON object; `met` is `false`.
#[must_use]
pub fn infeasible_json(goals: &Goals, infeasible: &Infeasible) -> Value {
    let obstacles: Vec<_> = infeasible.obstacles.iter().map(ToString::to_string).collect();
    json!({
        "met": false,
        "goals": goals_object(goals),
        "obstacles": obstacles,
        "breath_within_reach":
            infeasible.within_reach.as_ref().map(|breath| breath_object(breath, goals.weight)),
        "caution": CAUTION,
    })
}

fn goals_object(goals: &Goals) -> Value {
    json!({
        "weight_kg": goals.weight.as_kg(),
        "tidal_volume_ml_kg": goals.tidal_volume_ml_kg,
        "tidal_volume_ml": goals.tidal_volume().as_ml(),
        "inspiratory_time_s": goals.inspiratory_time.as_s(),
        "rate_per_min": goals.rate_per_min(),
        "end_tidal_co2_mmhg": match goals.pace {
            Pace::EndTidal(goal) => Some(goal.carbon_dioxide.as_mmhg()),
            _ => None,
        },
        "pressure_ceiling_cmh2o": goals.pressure_ceiling.as_cmh2o(),
        "largest_fresh_gas_flow_l_min": goals.largest_fresh_gas_flow.as_l_per_min(),
    })
}

/// Under the names that the fields of a scenario have.
fn settings(ventilator: &Ventilator) -> Value {
    json!({
        "fresh_gas_flow_l_min": ventilator.fresh_gas_flow.as_l_per_min(),
        "cycling_pressure_cmh2o": ventilator.cycling_pressure.as_cmh2o(),
        "expiratory_time_s": ventilator.expiratory_time.as_s(),
        "inspiratory_time_limit_s": ventilator.inspiratory_time_limit.as_s(),
    })
}

fn breath_object(breath: &Breath, weight: Mass) -> Value {
    let measures = Metric::ALL.map(|metric| (metric.name(), json!(metric.of(breath, weight))));
    let ended = ("ended_by", json!(ended_by(breath.ended_by)));
    Value::Object([ended].into_iter().chain(measures).map(|(k, v)| (k.to_owned(), v)).collect())
}

fn effect(effect: &Effect) -> Value {
    json!({
        "tidal_volume_ml": effect.tidal_volume_ml,
        "inspiratory_time_s": effect.inspiratory_time_s,
        "rate_per_min": effect.rate_per_min,
        "peak_pressure_cmh2o": effect.peak_pressure_cmh2o,
    })
}
