//! A settled breath before and after a change, for who turns one thing at a time.

mod knobs;
pub mod settled;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use serde::Deserialize;
use serde_json::{Value, json};
use tidewright::fault::Fault;
use tidewright_scenario::Scenario;
use tidewright_training::glossary::{find, worked};

use crate::look_up;
use crate::texts::Which;
use crate::wrong::Wrong;
use knobs::KNOBS;

/// A scenario as it begins, and what is set otherwise.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct State {
    base: Which,
    /// Knobs by their names, and where they stand.
    #[serde(default)]
    set: BTreeMap<String, f64>,
    /// What is wrong: the name of a fault.
    #[serde(default)]
    fault: Option<String>,
    /// How bad, percent.
    #[serde(default)]
    severity_percent: Option<f64>,
    /// Whether gas is followed, too.
    #[serde(default)]
    gas: bool,
}

impl State {
    /// The scenario, read once more as a file would be, so that what cannot be is told
    /// by the one reader of scenarios.
    pub fn scenario(&self) -> Result<Scenario, Wrong> {
        let mut scenario = self.base.scenario()?;
        scenario.timeline.clear();
        scenario.faults.clear();
        scenario.training = None;
        for (name, &value) in &self.set {
            let knob = KNOBS.iter().find(|knob| knob.name == name).ok_or_else(|| {
                Wrong::told(format!("there is no `{name}` to set"), "take one of the sliders")
            })?;
            (knob.turn)(&mut scenario, value);
        }
        let mut file: Value = serde_json::from_str(&scenario.to_json())
            .map_err(|error| Wrong::told(error, "this is a fault of the page itself"))?;
        if let Some(name) = &self.fault {
            let fault: Fault =
                name.parse().map_err(|error| Wrong::told(error, "choose one from the list"))?;
            let word = word_of(fault);
            let severity = self.severity_percent.unwrap_or(100.0) / 100.0;
            let fault = match fault.is_switch() {
                true => json!(word),
                false => json!({word: {"severity": severity}}),
            };
            file["faults"] = json!([{"at_s": 0.0, "fault": fault}]);
        }
        if self.gas && scenario.gas.is_none() {
            file["gas"] = json!({});
        } else if !self.gas {
            file["gas"] = Value::Null;
        }
        file["duration_s"] = json!(settled::run_s(self.gas));
        strip_nothing(&mut file);
        Ok(tidewright_scenario::parse("explored.json", &file.to_string())?)
    }
}

/// A fault as files write it: `KinkedTube` for `kinked-tube`.
fn word_of(fault: Fault) -> String {
    let parts = fault.name().split('-').map(|part| {
        let (first, rest) = part.split_at(1);
        first.to_uppercase() + rest
    });
    parts.collect()
}

/// What is nothing is left out, as in a file.
fn strip_nothing(value: &mut Value) {
    if let Value::Object(fields) = value {
        fields.retain(|_, field| !field.is_null());
        fields.values_mut().for_each(strip_nothing);
    }
    if let Value::Array(items) = value {
        items.iter_mut().for_each(strip_nothing);
    }
}

/// What may be turned, from where, and the faults that may be put in.
pub fn from(base: &Which) -> Result<Value, Wrong> {
    let state = State {
        base: base.clone(),
        set: BTreeMap::new(),
        fault: None,
        severity_percent: None,
        gas: false,
    };
    let scenario = state.scenario()?;
    let faults = Fault::ALL.iter().map(|fault| {
        json!({"name": fault.name(), "words": fault.in_words(), "switch": fault.is_switch()})
    });
    Ok(json!({
        "title": scenario.title,
        "patient": tidewright_scenario::report::patient(&scenario),
        "knobs": KNOBS.iter().map(|knob| knob.to_json(&scenario)).collect::<Vec<_>>(),
        "ails": faults.collect::<Vec<_>>(),
    }))
}

/// Both breaths, and their curves over the same time.
pub fn compared(before: &State, now: &State) -> Result<Value, Wrong> {
    let (before, now) = (before.scenario()?, now.scenario()?);
    let window_s = settled::window_s(&before)?;
    Ok(json!({
        "window_s": window_s,
        "before": settled::shown(&before, window_s)?,
        "now": settled::shown(&now, window_s)?,
    }))
}

/// A word with the numbers of the breath on the screen.
pub fn word(word: &str, now: &State) -> Result<Value, Wrong> {
    let scenario = now.scenario()?;
    let mut told = look_up::explained(word, Some(&scenario))?;
    let breath = settled::last_breath(&scenario)?;
    let term = find(word);
    let worked = term.zip(breath).and_then(|(term, breath)| worked(term, &scenario, &breath));
    told["worked"] = worked.into();
    Ok(told)
}

/// What is explored as a scenario file.
pub fn saved(now: &State, id: &str) -> Result<Value, Wrong> {
    let mut scenario = now.scenario()?;
    let name = tidewright_training::command::pseudonym(id);
    scenario.id = name.map_err(|_| {
        Wrong::told(
            format!("`{id}` is no name for a scenario"),
            "write small letters, digits and hyphens, as in `stiff-lung-2`",
        )
    })?;
    scenario.title = None;
    scenario.teaches = None;
    scenario.story = None;
    let text = scenario.to_ron();
    tidewright_scenario::parse("explored.ron", &text)?;
    Ok(json!({"file": format!("{id}.ron"), "text": text}))
}
