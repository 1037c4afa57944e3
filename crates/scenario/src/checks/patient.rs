//! What of a patient does not go together.

use super::Places;
use crate::fault::{Fault, Faults, Problem};
use crate::format::{Change, Compartment, Effort, LeaksTo, Lung, Scenario};
use crate::protocol::{Moment, Settings};

/// A rule, the kind of change that can break it, and where it is broken from the
/// start.
type Rule = (fn(&Settings) -> Option<Problem>, fn(&Change) -> bool, &'static [&'static str]);

const RULES: [Rule; 4] = [
    (two_tubes, sets_lung_or_tube, &["patient", "tube"]),
    (
        wall_of_typical_lung,
        |change| matches!(change, Change::ChestWall(_)),
        &["patient", "chest_wall"],
    ),
    (hole_into_no_chest, |change| matches!(change, Change::Lung(_)), &["patient", "lung"]),
    (effort_too_long, |change| matches!(change, Change::Effort(_)), &["patient", "effort"]),
];

/// Notes what a moment breaks that was whole before.
pub(super) fn check(
    earlier: Option<&Settings>,
    moment: &Moment,
    scenario: &Scenario,
    places: &Places<'_>,
    faults: &mut Faults,
) {
    for (broken, kind, start) in RULES {
        let Some(problem) = broken(&moment.settings) else { continue };
        let known = earlier.and_then(broken).is_some_and(|before| before == problem);
        if !known {
            faults.push(Fault::new(places.blame(moment, scenario, kind, start), problem));
        }
    }
}

fn sets_lung_or_tube(change: &Change) -> bool {
    matches!(change, Change::Lung(_) | Change::Tube(_))
}

fn compartments(settings: &Settings) -> &[Compartment] {
    match &settings.patient.lung {
        Some(Lung::Single(only)) => std::slice::from_ref(only),
        Some(Lung::Compartments(parts)) => &parts.compartments,
        None => &[],
    }
}

fn two_tubes(settings: &Settings) -> Option<Problem> {
    let Some(Lung::Compartments(parts)) = &settings.patient.lung else { return None };
    let twice = parts.tube_resistance_cmh2o_s_l > 0.0 && settings.patient.tube.is_some();
    twice.then_some(Problem::TwoTubes)
}

fn wall_of_typical_lung(settings: &Settings) -> Option<Problem> {
    let patient = &settings.patient;
    let wrong = patient.chest_wall.is_some() && patient.lung.is_none();
    wrong.then_some(Problem::WallOfTypicalLung)
}

fn hole_into_no_chest(settings: &Settings) -> Option<Problem> {
    let inward =
        |part: &Compartment| part.air_leak.as_ref().is_some_and(|hole| hole.to != LeaksTo::Room);
    let wrong = settings.patient.chest_wall.is_none() && compartments(settings).iter().any(inward);
    wrong.then_some(Problem::NoChestWall)
}

fn effort_too_long(settings: &Settings) -> Option<Problem> {
    let Some(Effort::Breaths(breaths)) = &settings.patient.effort else { return None };
    let takes_s = breaths.duration_s + breaths.delay_s;
    let every_s = 60.0 / breaths.rate_per_min;
    (takes_s >= every_s).then_some(Problem::EffortTooLong { takes_s, every_s })
}
