//! What of a lesson needs carbon dioxide and oxygen, or a drive to breathe.

use super::lesson_places::Places;
use crate::fault::{Fault, Faults, Problem};
use crate::format::{
    DEBRIEF_VALUES, DEBRIEF_VALUES_OF_GAS, Effort, Hidden, Measure, Onset, Quantity, Scenario,
    Training,
};
use crate::text::{Node, Span};

/// Notes what needs gas in a lesson without it, what needs a drive in a patient
/// without one, and values that do not go together.
pub(crate) fn check(scenario: &Scenario, root: &Node, faults: &mut Faults) {
    let Some(training) = &scenario.training else { return };
    let places = &Places::new(root);
    for (what, at) in needs_gas(training, places) {
        if scenario.gas.is_none() {
            faults.push(Fault::new(at, Problem::NoGas { what }));
        }
    }
    let driven = matches!(scenario.patient.effort, Some(Effort::Drive(_)));
    for at in needs_drive(training, places) {
        if scenario.gas.is_some() && !driven {
            faults.push(Fault::new(
                at,
                Problem::Unfit {
                    message: "this needs a patient that breathes by its own drive".to_owned(),
                    expected: "a patient whose effort is `Drive`".to_owned(),
                    mend: "add `effort: Drive(depth: 0.8)` to `patient`".to_owned(),
                },
            ));
        }
    }
    if scenario.gas.as_ref().is_some_and(|gas| gas.cylinder.is_some()) {
        faults.push(Fault::new(
            places.around(&["gas", "cylinder"]),
            Problem::Unfit {
                message: "a lesson does not follow what is left in a cylinder".to_owned(),
                expected: "no `cylinder`".to_owned(),
                mend: "take it out, and let a case of the pool have the stage `CylinderEmptying`"
                    .to_owned(),
            },
        ));
    }
    ranges(training, places, faults);
    adapters(training, places, faults);
}

/// What needs gas, and where it stands.
fn needs_gas(training: &Training, places: &Places<'_>) -> Vec<(&'static str, Span)> {
    let mut found = Vec::new();
    for (index, criterion) in training.criteria.iter().enumerate() {
        if criterion.measure.is_of_gas() {
            let at = places.of(&["criteria", &index.to_string(), "measure"]);
            found.push(("this measures carbon dioxide, oxygen or own breaths", at));
        }
    }
    for (index, offer) in training.offers.iter().enumerate() {
        if offer.is_of_gas() {
            let at = places.of(&["offers", &index.to_string()]);
            found.push(("this act shows or changes what only a run with gas has", at));
        }
    }
    for (index, asked) in training.predictions.iter().enumerate() {
        if matches!(asked.of, Quantity::EndTidalCarbonDioxide | Quantity::InspiredCarbonDioxide) {
            let at = places.of(&["predictions", &index.to_string(), "of"]);
            found.push(("this predicts carbon dioxide", at));
        }
    }
    for (index, case) in training.pool.iter().enumerate() {
        for number in 0..case.changes.len() {
            let (index, number) = (index.to_string(), number.to_string());
            let at = places.of(&["pool", &index, "changes", &number, "set"]);
            found.push(("this changes what only a run with gas has", at));
        }
    }
    let values = &DEBRIEF_VALUES[DEBRIEF_VALUES.len() - DEBRIEF_VALUES_OF_GAS..];
    let own = [("why", &training.debrief.why), ("next", &training.debrief.next)];
    let own = own.map(|(field, text)| (text, places.of(&["debrief", field])));
    let of_cases = training.pool.iter().enumerate().filter_map(|(index, case)| {
        Some((case.why.as_ref()?, places.of(&["pool", &index.to_string(), "why"])))
    });
    for (text, at) in own.into_iter().chain(of_cases) {
        if values.iter().any(|value| text.contains(&format!("{{{value}}}"))) {
            found.push(("this names a value of carbon dioxide, oxygen or own breaths", at));
        }
    }
    found
}

/// Where something stands that needs a drive.
fn needs_drive(training: &Training, places: &Places<'_>) -> Vec<Span> {
    let mut found = Vec::new();
    for (index, criterion) in training.criteria.iter().enumerate() {
        if matches!(criterion.measure, Measure::FinalOwnTidalVolume(_)) {
            found.push(places.of(&["criteria", &index.to_string(), "measure"]));
        }
    }
    for (index, offer) in training.offers.iter().enumerate() {
        if offer.is_of_depth() {
            found.push(places.of(&["offers", &index.to_string()]));
        }
    }
    for (index, case) in training.pool.iter().enumerate() {
        for (number, change) in case.changes.iter().enumerate() {
            if matches!(change.set, Hidden::Depth(_)) {
                let (index, number) = (index.to_string(), number.to_string());
                found.push(places.of(&["pool", &index, "changes", &number, "set"]));
            }
        }
    }
    found
}

fn ranges(training: &Training, places: &Places<'_>, faults: &mut Faults) {
    for (index, criterion) in training.criteria.iter().enumerate() {
        let (first, second) = match &criterion.measure {
            Measure::EndTidalOutside(time) => (time.lowest_mmhg, time.highest_mmhg),
            Measure::EndTidalWithin(share) => (share.lowest_mmhg, share.highest_mmhg),
            Measure::FinalEndTidal(range) => (range.at_least_mmhg, range.at_most_mmhg),
            Measure::FinalTidalVolume(range) | Measure::FinalOwnTidalVolume(range) => {
                (range.at_least_ml_kg, range.at_most_ml_kg)
            }
            Measure::AlarmSet(range) => (range.at_least, range.at_most),
            _ => continue,
        };
        if first > second {
            let at = places.of(&["criteria", &index.to_string(), "measure"]);
            faults.push(Fault::new(at, Problem::RangeReversed { first, second }));
        }
    }
}

fn adapters(training: &Training, places: &Places<'_>, faults: &mut Faults) {
    for (index, case) in training.pool.iter().enumerate() {
        for (number, change) in case.changes.iter().enumerate() {
            if matches!((&change.set, &change.onset), (Hidden::Adapter(_), Onset::Ramp(_))) {
                let (index, number) = (index.to_string(), number.to_string());
                let at = places.of(&["pool", &index, "changes", &number, "onset"]);
                faults.push(Fault::new(
                    at,
                    Problem::Unfit {
                        message: "an adapter does not come little by little".to_owned(),
                        expected: "`onset: Step`".to_owned(),
                        mend: "leave `onset` out".to_owned(),
                    },
                ));
            }
        }
    }
}
