//! The breath of a run that has gone on for a while, and its curves.

use serde_json::{Value, json};
use tidewright::breath::{Breath, EndedBy};
use tidewright::machine::Signal;
use tidewright::run::{Simulation, Stretch};
use tidewright_scenario::Scenario;
use tidewright_scenario::report::{self, GasRow};
use tidewright_training::text::said;

use crate::wrong::Wrong;

/// How long a run settles, s: breaths alone, and with gas.
const BREATHS_S: f64 = 120.0;
const GAS_S: f64 = 900.0;
/// How much of it is drawn, s: breaths at most, and shortest and longest.
const BREATHS_SHOWN: f64 = 2.5;
const WINDOW_S: (f64, f64) = (2.0, 15.0);
/// Points of a curve.
const POINTS: usize = 400;

const CURVES: [(Signal, &str); 3] = [
    (Signal::AirwayPressure, "pressure cmH2O"),
    (Signal::AirwayFlow, "flow mL/s"),
    (Signal::LungVolume, "volume mL"),
];

/// How long a run is, s.
pub fn run_s(gas: bool) -> f64 {
    if gas { GAS_S } else { BREATHS_S }
}

/// How much time shows some breaths, s.
pub fn window_s(scenario: &Scenario) -> Result<f64, Wrong> {
    let one_s = last_breath(scenario)?
        .map_or(WINDOW_S.1, |breath| (breath.inspiratory_time + breath.expiratory_time).as_s());
    Ok((BREATHS_SHOWN * one_s).clamp(WINDOW_S.0, WINDOW_S.1))
}

/// The last breath of a run, if there was one.
pub fn last_breath(scenario: &Scenario) -> Result<Option<Breath>, Wrong> {
    let (simulation, mut last) = (simulation(scenario)?, None);
    report::follow(scenario, &simulation, |_, breath| {
        last = breath.copied().or(last);
        Ok(())
    })
    .map_err(cannot)?;
    Ok(last)
}

fn cannot(error: impl ToString) -> Wrong {
    Wrong::told(error, "turn it back a little")
}

fn simulation(scenario: &Scenario) -> Result<Simulation, Wrong> {
    Simulation::new(&scenario.protocol()).map_err(cannot)
}

/// The last breath in numbers, and curves that begin with an inspiration.
pub fn shown(scenario: &Scenario, window_s: f64) -> Result<Value, Wrong> {
    let simulation = simulation(scenario)?;
    let (mut kept, mut last, mut gas) = (Vec::<Stretch<'_>>::new(), None, None);
    let mut from_s = 0.0;
    let end_s = scenario.duration_s;
    let ending = report::watch(scenario, &simulation, |progress| {
        let stretch = progress.stretch;
        if let Some(breath) = progress.breath {
            last = Some(*breath);
            let next_s =
                breath.start.as_s() + (breath.inspiratory_time + breath.expiratory_time).as_s();
            if next_s <= end_s - window_s {
                from_s = next_s;
                kept.retain(|one| one.piece.end_s() > from_s);
            }
        }
        gas = progress.breath_gas.copied().or(gas);
        if stretch.piece.end_s() > end_s - 3.0 * window_s || kept.is_empty() {
            kept.push(stretch.clone());
        }
        Ok(())
    });
    let ending = ending.map_err(cannot)?;
    if kept.first().is_some_and(|first| first.piece.start_s > from_s) || last.is_none() {
        from_s = end_s - window_s;
    }
    let curves = CURVES.map(|(signal, name)| {
        let points = (0..=POINTS).filter_map(|i| {
            let t = from_s + window_s * i as f64 / POINTS as f64;
            let stretch =
                kept.iter().find(|one| one.piece.start_s <= t && t <= one.piece.end_s())?;
            let value = stretch.piece.nearest(signal, t - stretch.piece.start_s);
            Some([t - from_s, value])
        });
        json!({"name": name, "points": points.collect::<Vec<_>>()})
    });
    let mut numbers =
        last.as_ref().map_or_else(Vec::new, |last| breath(last, scenario.patient.weight_kg));
    if let Some(gas) = gas {
        let row = GasRow::of(&gas);
        let word = |name, unit, value, term| number(name, said(value), unit, value, Some(term));
        let arterial = row.arterial_co2_mmhg;
        numbers.extend([
            word("EtCO2", "mmHg", row.end_tidal_co2_mmhg, "end-tidal carbon dioxide"),
            word("mean inspired CO2", "mmHg", row.mean_inspired_co2_mmhg, "rebreathing"),
            word("PaCO2", "mmHg", arterial, "end-tidal carbon dioxide"),
            word("SpO2", "%", row.spo2_percent, "hand ventilation"),
        ]);
    }
    Ok(json!({
        "curves": curves,
        "numbers": numbers,
        "cautions": ending.cautions.iter().skip(1).collect::<Vec<_>>(),
        "story": ending.story,
    }))
}

fn number(name: &str, text: String, unit: &str, value: f64, term: Option<&str>) -> Value {
    json!({"name": name, "value": text, "unit": unit, "number": value, "term": term})
}

/// A breath in numbers, each with its word in the glossary.
pub fn breath(last: &Breath, kg: f64) -> Vec<Value> {
    let shown = |name, unit, term, value: f64| number(name, said(value), unit, value, Some(term));
    let by = match last.ended_by {
        EndedBy::Pressure => "pressure",
        EndedBy::Time => "time limit",
        EndedBy::Standby => "standby",
    };
    let out_ml = last.expired_tidal_volume.as_ml();
    let baseline = last.baseline_pressure.as_cmh2o();
    let trapped = last.end_expiratory_alveolar_pressure.as_cmh2o() - baseline;
    vec![
        json!({"name": "ended by", "value": by, "unit": "", "term": "cycling pressure"}),
        shown("inspiratory time", "s", "inspiratory time", last.inspiratory_time.as_s()),
        shown("rate", "/min", "expiratory time", last.rate_per_min()),
        shown("tidal volume out", "mL", "tidal volume", out_ml),
        shown("tidal volume out", "mL/kg", "tidal volume", out_ml / kg),
        shown("minute volume", "L/min", "fresh gas flow", 1e-3 * out_ml * last.rate_per_min()),
        shown("peak", "cmH2O", "peak pressure", last.peak_pressure.as_cmh2o()),
        shown("baseline", "cmH2O", "baseline pressure", baseline),
        shown("intrinsic PEEP", "cmH2O", "intrinsic PEEP", trapped.max(0.0)),
        shown("leaked", "mL", "leak", last.leaked.as_ml()),
    ]
}
