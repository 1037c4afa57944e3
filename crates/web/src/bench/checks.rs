//! What is done with the ventilator in the morning: the thumb's squeeze, the shut port,
//! the running hours.

use serde::Deserialize;
use serde_json::{Value, json};
use tidewright::assembly::Assembly;
use tidewright::bench::{RunningHours, Service, ServiceRule, Squeeze, squeeze_needed};
use tidewright::breath::EndedBy;
use tidewright::machine::Machine;
use tidewright::quantity::{Compliance, Flow, Pressure, Seconds, Volume};
use tidewright::setup::{PatientPort, SensorPlace, Setup};
use tidewright::steady::periodic;
use tidewright_training::text::said;

use crate::wrong::Wrong;

/// A check.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Check {
    /// Everything shut, so much pressed out in so much time.
    Squeeze { ml: f64, s: f64 },
    /// The patient port held shut at this flow.
    ShortCycles { l_per_min: f64 },
    /// What the counters show.
    Hours { in_use_h: f64, ventilating_h: f64 },
}

/// Gas that a small sealed circuit holds, mL.
const SMALL_ML: [f64; 2] = [10.0, 20.0];

fn within(what: &str, value: f64, least: f64, most: f64) -> Result<f64, Wrong> {
    if (least..=most).contains(&value) {
        return Ok(value);
    }
    Err(Wrong::told(format!("{what} cannot be that"), format!("write {least} to {most}")))
}

/// What a check shows.
pub fn checked(circuit: &Assembly, base: &Setup, check: Check) -> Result<Value, Wrong> {
    let made = || -> Result<Setup, Wrong> {
        let made = circuit.assemble(base);
        let made = made.map_err(|error| Wrong::told(error, "put the circuit together first"))?;
        Ok(made.setup)
    };
    match check {
        Check::Squeeze { ml, s } => {
            let ml = within("a squeeze, mL,", ml, 0.001, 1000.0)?;
            let s = within("its time, s,", s, 0.001, 1000.0)?;
            squeezed(&made()?, Volume::ml(ml), Seconds::s(s))
        }
        Check::ShortCycles { l_per_min } => {
            short_cycles(made()?, within("the flow, L/min,", l_per_min, 0.05, 15.0)?)
        }
        Check::Hours { in_use_h, ventilating_h } => {
            let hours = RunningHours::new(in_use_h, ventilating_h);
            let hours = hours.map_err(|error| Wrong::told(error, "read both counters again"))?;
            let rule = ServiceRule::default();
            let service = match rule.at(&hours) {
                Service::NotYet => "not_yet",
                Service::Near => "near",
                Service::Due => "due",
            };
            Ok(json!({"service": service, "near_h": rule.near_h, "due_h": rule.due_h}))
        }
    }
}

fn squeezed(setup: &Setup, squeezed: Volume, over: Seconds) -> Result<Value, Wrong> {
    let circuit = &setup.circuit;
    let squeeze = Squeeze::of(circuit, squeezed, over);
    if squeeze.compliance() == Compliance::ZERO {
        return Err(Wrong::told(
            "nothing in this circuit gives: a squeeze of any size is too much",
            "lay out a part that holds gas",
        ));
    }
    let cycling = setup.ventilator.cycling_pressure;
    let leak = circuit.leak.map_or(0.0, |leak| leak.conductance_ml_s_per_cmh2o());
    let senses = !matches!(circuit.sensor.place, SensorPlace::Cut(_));
    let small = SMALL_ML.map(|ml| said(squeeze_needed(Volume::ml(ml), cycling).as_ml()));
    Ok(json!({
        "rises_to_cmh2o": said(squeeze.pressure(leak).as_cmh2o()),
        "cycles": senses && squeeze.cycles(cycling, leak),
        "needs_ml": said((squeeze.compliance() * cycling).as_ml()),
        "gas_alone_needs_ml": small,
    }))
}

/// The port is shut: the pressure in the little that is left rises fast, and the
/// ventilator cycles in short breaths.
fn short_cycles(mut setup: Setup, l_per_min: f64) -> Result<Value, Wrong> {
    setup.circuit.patient_port = PatientPort::Blocked;
    setup.ventilator.fresh_gas_flow = Flow::l_per_min(l_per_min);
    let cannot = |error: String| Wrong::told(error, "put the circuit together first");
    let machine = Machine::new(setup).map_err(|error| cannot(error.to_string()))?;
    let breath = periodic(&machine).map_err(|error| cannot(error.to_string()))?.breath;
    Ok(json!({
        "per_min": said(breath.rate_per_min()),
        "peak_cmh2o": said(Pressure::as_cmh2o(breath.peak_pressure)),
        "by_pressure": breath.ended_by == EndedBy::Pressure,
        "inspiratory_s": said(breath.inspiratory_time.as_s()),
    }))
}
