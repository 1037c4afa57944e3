//! The runs of a figure.

use tidewright::run::{ProtocolError, Simulation};
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{Change, TimelineEntry};
use tidewright_scenario::report::{self, Happening};

use crate::kinds::run_figure::together;
use crate::plot::event::Event;

/// Longest run in search of a breath, s.
pub(super) const LONGEST_S: f64 = 600.0;

/// The scenario with changes that hold from its start, after its own.
pub(super) fn varied(scenario: &Scenario, set: &[Change]) -> Scenario {
    let mut scenario = scenario.clone();
    let after = scenario.timeline.partition_point(|entry| entry.at_s <= 0.0);
    let entries = set.iter().map(|set| TimelineEntry { at_s: 0.0, set: set.clone() });
    scenario.timeline.splice(after..after, entries);
    scenario
}

/// The scenario without what changes on its way.
pub(super) fn unchanged(scenario: &Scenario) -> Scenario {
    let mut scenario = scenario.clone();
    scenario.timeline.retain(|entry| entry.at_s <= 0.0);
    scenario.faults.clear();
    scenario
}

/// What happens in a part of a run, at one time in one label.
pub(super) fn happenings(scenario: &Scenario, from_s: f64, to_s: f64) -> Vec<Event> {
    let shown = |one: &Happening| 0.0 < one.at_s && from_s <= one.at_s && one.at_s <= to_s;
    let happenings = report::happenings(scenario).into_iter().filter(shown);
    together(happenings.map(|one| (one.at_s, one.label)))
}

/// A simulation of a scenario, at least so long.
pub(super) fn simulation(scenario: &Scenario, least_s: f64) -> Result<Simulation, ProtocolError> {
    let scenario = Scenario { duration_s: scenario.duration_s.max(least_s), ..scenario.clone() };
    Simulation::new(&scenario.protocol())
}

/// A label of which no number is parted from its unit.
pub(super) fn kept_together(label: &str) -> String {
    let mut text = String::new();
    for letter in label.replace("cmH2O", "cmH₂O").chars() {
        let after_number = text.ends_with(|c: char| c.is_ascii_digit());
        text.push(if letter == ' ' && after_number { '\u{a0}' } else { letter });
    }
    text
}
