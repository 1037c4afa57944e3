//! A numeric field of a scenario, named by its path.

use std::fmt;
use std::str::FromStr;

use serde_json::{Value, json};
use thiserror::Error;
use tidewright::setup::Tube;
use tidewright_scenario::format::{Compartment, Lung};
use tidewright_scenario::read::split_unit;
use tidewright_scenario::{Rejected, Scenario};

/// The path of a numeric field from the scenario down to it, with dots:
/// `ventilator.fresh_gas_flow_l_min`, `circuit.leak.ml_min`,
/// `patient.lung.compliance_ml_cmh2o`, `timeline.0.set.l_min`.
///
/// An entry of a list is named by its number, from 0. The word of a choice
/// (`FreshGasFlow` in the last example) is left out.
///
/// ```
/// use tidewright_study::Field;
/// let scenario = tidewright_scenario::parse("demo", tidewright_scenario::DEMO)?;
/// let flow: Field = "ventilator.fresh_gas_flow_l_min".parse()?;
/// assert_eq!(flow.set(&scenario, 2.5)?.ventilator.fresh_gas_flow_l_min, 2.5);
/// // What the format does not allow is a fault, with a mend.
/// assert!(flow.set(&scenario, -1.0).is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Field {
    path: String,
}

/// A text that is no path, or a value that the scenario does not take.
#[derive(Debug, Error)]
pub enum FieldError {
    /// The text is no path.
    #[error(
        "{0:?} is no path of a field: write names with dots between them, such as \
         ventilator.fresh_gas_flow_l_min"
    )]
    Path(String),
    /// The path leads through something that has no such part.
    #[error("{path}: {within} has no part {name}")]
    NotThere {
        /// The whole path.
        path: String,
        /// What the path led to.
        within: String,
        /// The name that is not there.
        name: String,
    },
    /// The path leads to something that is no number.
    #[error("{path} is no number")]
    NotANumber {
        /// The whole path.
        path: String,
    },
    /// The format does not take the values.
    #[error("{values}: {first}", first = first(.rejected))]
    Rejected {
        /// What was set: `path = value, …`.
        values: String,
        /// Every fault.
        rejected: Box<Rejected>,
    },
}

fn first(rejected: &Rejected) -> String {
    rejected.faults().first().map_or_else(String::new, |fault| format!("{fault}; {}", fault.mend()))
}

impl Field {
    /// The path.
    #[must_use]
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Its name and unit as an axis has them: `Fresh gas flow (L/min)`.
    ///
    /// ```
    /// use tidewright_study::Field;
    /// let label = |path: &str| path.parse::<Field>().unwrap().label();
    /// assert_eq!(label("ventilator.fresh_gas_flow_l_min"), "Fresh gas flow (L/min)");
    /// assert_eq!(label("circuit.leak.ml_min"), "Leak (mL/min)");
    /// assert_eq!(label("circuit.leak.at_cmh2o"), "Leak at (cmH2O)");
    /// ```
    #[must_use]
    pub fn label(&self) -> String {
        let (words, unit) = self.words();
        if unit.is_empty() { words } else { format!("{words} ({unit})") }
    }

    fn words(&self) -> (String, &'static str) {
        let (around, last) = self.path.rsplit_once('.').unwrap_or(("", &self.path));
        let (name, unit) = split_unit(last);
        let block = around.rsplit('.').find(|part| !part.bytes().all(|b| b.is_ascii_digit()));
        let words = match (name, block) {
            // Such a short name says nothing without its block.
            (name, Some(block)) if name.len() <= 3 => format!("{block} {name}"),
            (name, _) => name.to_owned(),
        };
        let words = words.replace('_', " ");
        let mut letters = words.trim().chars();
        let first = letters.next().into_iter().flat_map(char::to_uppercase);
        (first.chain(letters).collect(), unit)
    }

    /// The scenario with this field at `value`: [`set_all`] of one field.
    ///
    /// # Errors
    /// As [`set_all`].
    pub fn set(&self, scenario: &Scenario, value: f64) -> Result<Scenario, FieldError> {
        set_all(scenario, &[(self, value)])
    }
}

/// The scenario with all of these fields at their values, checked as a file is.
///
/// A block that is not written is begun with the field; a typical lung is written
/// out first, so that one of its values can change.
///
/// # Errors
/// [`FieldError`] if there is no such field, or if the format does not take a value
/// or what it leads to.
pub fn set_all(scenario: &Scenario, values: &[(&Field, f64)]) -> Result<Scenario, FieldError> {
    let mut scenario = scenario.clone();
    let in_lung = |(field, _): &(&Field, f64)| field.path.starts_with("patient.lung.");
    if values.iter().any(in_lung) && scenario.patient.lung.is_none() {
        scenario.patient.lung = Some(written_out(&scenario));
    }
    let mut tree: Value = json!(scenario);
    for &(field, value) in values {
        *field.find(&mut tree)? = json!(value);
    }
    tidewright_scenario::parse("scenario.json", &tree.to_string()).map_err(|rejected| {
        let values: Vec<_> =
            values.iter().map(|(field, value)| format!("{field} = {value}")).collect();
        FieldError::Rejected { values: values.join(", "), rejected: Box::new(rejected) }
    })
}

/// The typical lung of species and weight, tube and airway in one.
fn written_out(scenario: &Scenario) -> Lung {
    let lung = scenario.patient.lung();
    let tube = match lung.tube {
        Tube::Linear(resistance) => resistance.as_cmh2o_s_per_l(),
        _ => 0.0,
    };
    let airway = lung.compartments.first().map_or(0.0, |part| part.resistance.as_cmh2o_s_per_l());
    let compliance = lung.total_compliance().as_ml_per_cmh2o();
    Lung::Single(Compartment::plain(compliance, airway + tube))
}

impl Field {
    /// The place of the field in the tree; made if its block has no such entry yet.
    fn find<'a>(&self, tree: &'a mut Value) -> Result<&'a mut Value, FieldError> {
        let mut at = tree;
        let mut within = "the scenario";
        for name in self.path.split('.') {
            at = part(at, name).ok_or_else(|| FieldError::NotThere {
                path: self.path.clone(),
                within: within.to_owned(),
                name: name.to_owned(),
            })?;
            within = name;
        }
        match at {
            Value::Null | Value::Number(_) => Ok(at),
            _ => Err(FieldError::NotANumber { path: self.path.clone() }),
        }
    }
}

/// The part of a block or list, looking through the word of a choice.
fn part<'a>(value: &'a mut Value, name: &str) -> Option<&'a mut Value> {
    if value.is_null() {
        *value = json!({});
    }
    let value = if is_choice(value) && value.get(name).is_none() {
        value.as_object_mut()?.values_mut().next()?
    } else {
        value
    };
    match value {
        Value::Array(items) => items.get_mut(name.parse::<usize>().ok()?),
        Value::Object(block) => Some(block.entry(name).or_insert(Value::Null)),
        _ => None,
    }
}

/// `{"FreshGasFlow": …}`: words of choices begin with a capital, fields never do.
fn is_choice(value: &Value) -> bool {
    let capital = |key: &String| key.starts_with(|c: char| c.is_ascii_uppercase());
    value.as_object().is_some_and(|block| block.len() == 1 && block.keys().all(capital))
}

impl fmt::Display for Field {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.path)
    }
}

impl FromStr for Field {
    type Err = FieldError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let is_name = |name: &str| {
            !name.is_empty() && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
        };
        if text.split('.').all(is_name) {
            return Ok(Self { path: text.to_owned() });
        }
        Err(FieldError::Path(text.to_owned()))
    }
}
