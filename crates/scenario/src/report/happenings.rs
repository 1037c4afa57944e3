//! What happens in a run and when: changes of the timeline, faults that come and
//! go, in the order of their times.

use super::faults;
use super::labels::label;
use super::words::{change, said};
use crate::format::{Change, Onset, Scenario};

/// Something that happens at a time.
#[derive(Clone, Debug, PartialEq)]
pub struct Happening {
    /// When, from the start of the run.
    pub at_s: f64,
    /// As a label in a figure: `leak closed`.
    pub label: String,
    /// As part of a sentence: `the leak is closed`.
    pub sentence: String,
    /// Whether somebody turned a control, and so knows of it.
    pub by_hand: bool,
}

/// Everything that happens in a run, in order of time; at one time the changes of
/// the timeline first, then the faults, each in the order of the file, then the end
/// of the cylinder.
///
/// ```
/// use tidewright_scenario::{DEMO, parse, report};
/// let text = DEMO.replace("timeline:", "faults: [(at_s: 12, fault: SenseLineOff)], timeline:");
/// let happenings = report::happenings(&parse("demo.ron", &text)?);
/// assert_eq!(happenings[0].label, "sense line off");
/// assert_eq!(happenings[0].sentence, "the pressure sensing line comes off");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn happenings(scenario: &Scenario) -> Vec<Happening> {
    let entries = scenario.timeline.iter().map(|entry| Happening {
        at_s: entry.at_s,
        label: label(&entry.set),
        sentence: change(&entry.set),
        by_hand: turns_a_control(&entry.set),
    });
    let faults = scenario.faults.iter().flat_map(|timed| {
        let words = faults::words(&timed.fault);
        let (label, sentence) = match &timed.onset {
            Onset::Step => (words.label, words.comes),
            Onset::Ramp(ramp) => {
                let s = said(ramp.s);
                (
                    format!("{} within {s} s", words.label),
                    format!("{} (bit by bit, within {s} s)", words.comes),
                )
            }
        };
        let end = timed.until_s.map(|at_s| Happening {
            at_s,
            label: words.over.to_owned(),
            sentence: words.goes.to_owned(),
            by_hand: false,
        });
        [Happening { at_s: timed.at_s, label, sentence, by_hand: false }].into_iter().chain(end)
    });
    let empty = scenario.cylinder_empty_at_s().map(|at_s| Happening {
        at_s,
        label: "cylinder empty".to_owned(),
        sentence: "the cylinder is empty and the fresh gas stops".to_owned(),
        by_hand: false,
    });
    let mut all: Vec<Happening> = entries.chain(faults).chain(empty).collect();
    all.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    all
}

fn turns_a_control(change: &Change) -> bool {
    matches!(
        change,
        Change::FreshGasFlow(_)
            | Change::CyclingPressure(_)
            | Change::InspiratoryTimeLimit(_)
            | Change::ExpiratoryTime(_)
            | Change::EndExpiratoryPressure(_)
            | Change::Mode(_)
    )
}
