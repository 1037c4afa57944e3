//! Faults that come too late, go before they come, or leave gas nowhere to go.

use tidewright::machine::Machine;
use tidewright::setup::SetupError;

use super::Places;
use crate::fault::{Fault, Faults, Problem};
use crate::format::Scenario;
use crate::text::{Node, Span};

/// Notes times that make no sense.
pub(super) fn times(scenario: &Scenario, places: &Places<'_>, faults: &mut Faults) {
    let duration_s = scenario.duration_s;
    for (index, timed) in scenario.faults.iter().enumerate() {
        let mut too_late = |field: &str, at_s: f64| {
            if at_s >= duration_s {
                let fault =
                    Fault::new(place(places, index, field), Problem::AfterEnd { at_s, duration_s });
                faults.push(fault.and(places.of(&["duration_s"]), "the run ends here"));
            }
        };
        too_late("at_s", timed.at_s);
        let Some(until_s) = timed.until_s else { continue };
        if until_s <= timed.at_s {
            let problem = Problem::OverBefore { until_s, at_s: timed.at_s };
            let fault = Fault::new(place(places, index, "until_s"), problem);
            faults.push(fault.and(place(places, index, "at_s"), "it begins here"));
        } else {
            too_late("until_s", until_s);
        }
    }
}

/// Notes the first time at which the engine would not run what the faults make of
/// settings that it would run without them.
pub(super) fn engine(scenario: &Scenario, places: &Places<'_>, faults: &mut Faults) {
    if scenario.faults.is_empty() {
        return;
    }
    let protocol = scenario.protocol();
    let changes = protocol.changes.iter().map(|change| (change.at, &change.setup));
    let setups =
        [(tidewright::quantity::Seconds::ZERO, &protocol.start)].into_iter().chain(changes);
    for (from, setup) in setups {
        let Err(refused) = Machine::check(setup) else { continue };
        let there = |timed: &crate::format::TimedFault| timed.to_core().severity_at(from) > 0.0;
        let index = scenario.faults.iter().rposition(there).unwrap_or(0);
        let at = place(places, index, "fault");
        faults.push(match refused {
            SetupError::NowhereToGo => {
                let rigid = places.of(&["circuit", "compliance_ml_cmh2o"]);
                Fault::new(at, Problem::NoPressure).and(rigid, "0 means rigid")
            }
            refused => Fault::new(at, Problem::Refused { why: refused.to_string() }),
        });
        return;
    }
}

fn place(places: &Places<'_>, index: usize, field: &str) -> Span {
    let item = places.root.get("faults").and_then(|list| list.item(index));
    let value = item.and_then(|item| item.get(field)).or(item);
    value.map_or_else(|| places.of(&["faults"]), Node::mark)
}
