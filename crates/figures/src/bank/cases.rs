//! What the cases of a lesson do to a breath of its own patient.

use tidewright::breath::Breath;
use tidewright::fault::{TimedFault, with_faults};
use tidewright::quantity::Seconds;
use tidewright::run::{Protocol, Simulation};
use tidewright_scenario::format::{Case, Scenario, Stage, TimedFault as Written};
use tidewright_scenario::report;

use super::Bank;
use super::signs::{Turn, turns};
use crate::draw::DrawFileError;

/// When the case begins, s: breaths have settled by then. How long after its last stage
/// the breath is read, s.
const ONSET_S: f64 = 60.0;
const AFTER_S: f64 = 80.0;

pub(super) fn add(bank: &mut Bank, scenario: &Scenario) -> Result<usize, DrawFileError> {
    let Some(training) = &scenario.training else { return Ok(0) };
    let settings = report::settings(scenario).join(", ").replace("cmH2O", "cmH₂O");
    let asks = [format!("{}.", report::patient(scenario)), format!("Set: {settings}.")];
    let before = bank.questions.len();
    // What is on the table, in the supply or in the patient's blood is seen in a session.
    let in_the_breath = |case: &&Case| !case.course.is_empty() && case.changes.is_empty();
    for case in training.pool.iter().filter(in_the_breath) {
        let Some((well, ill)) = breaths(scenario, case)? else { continue };
        let happens = case.says.trim_end_matches('.');
        for Turn { measure, right, told } in turns(&well, &ill) {
            let mut asks = asks.to_vec();
            asks.push(format!(
                "This happens: {happens}. {AFTER_S} s later nobody has done anything yet: which way \
                 has the {measure} gone?"
            ));
            bank.ask_way("case", asks, right, format!("{happens}: {told}"));
        }
    }
    Ok(bank.questions.len() - before)
}

/// The last breath before a case of the scenario as it starts, and the one that is read
/// after it; none where too few breaths come, as in standby.
fn breaths(scenario: &Scenario, case: &Case) -> Result<Option<(Breath, Breath)>, DrawFileError> {
    let mut stages = case.course.iter().map(|stage| ONSET_S + stage.after_s);
    let ends = stages.clone().skip(1).map(|at_s| Some(Seconds::s(at_s))).chain([None]);
    let fault = |((stage, at_s), until): ((&Stage, f64), Option<Seconds>)| {
        let (fault, onset) = (stage.is.clone(), stage.onset.clone());
        let written = Written { at_s, fault, onset, until_s: None };
        TimedFault { until, ..written.to_core() }
    };
    let faults: Vec<TimedFault> =
        case.course.iter().zip(stages.clone()).zip(ends).map(fault).collect();
    let read_s = stages.next_back().unwrap_or(ONSET_S) + AFTER_S;
    let start = scenario.protocol_without_faults().start;
    let protocol = Protocol { start, changes: vec![], duration: Seconds::s(read_s) };
    let (all, _) = Simulation::new(&with_faults(&protocol, &faults))?.breaths()?;
    let ends_s = |b: &Breath| (b.start + b.inspiratory_time + b.expiratory_time).as_s();
    let last = |from_s: f64, by_s: f64| {
        let last = all.iter().rfind(|breath| ends_s(breath) <= by_s);
        last.copied().filter(|breath| breath.start.as_s() >= from_s)
    };
    Ok(last(0.0, ONSET_S).zip(last(ONSET_S, read_s)))
}
