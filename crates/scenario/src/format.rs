#![doc = include_str!("../FORMAT.md")]

use tidewright::species::Species as _;

use crate::read::{any, block, choice, list, number, text};

/// Version of the format that this crate reads and writes.
pub const FORMAT: u32 = 1;

/// Longest run, s: one day.
pub const LONGEST_RUN_S: f64 = 86_400.0;

const TUBE_HINT: &str = "write 0.01 for a tube with almost no resistance";

block! {
    /// A scenario: one patient, one circuit, one ventilator, and what changes
    /// during the run.
    pub struct Scenario {
        /// Version of the format.
        format: u32 = number(1.0, 1.0).hint("write `format: 1`, or use a newer version of the program"),
        /// Short name, as a file name: small letters, digits and hyphens.
        id: Id = text(64),
        /// What a list of scenarios shows; the `id` if absent.
        title: Option<String> = text(120).or_nothing("the `id`"),
        /// The one thing to learn from it, in a sentence.
        teaches: Option<String> = text(500).or_nothing("nothing is said"),
        /// What the student is told before the run.
        story: Option<String> = text(4000).or_nothing("nothing is said"),
        /// Who is ventilated.
        patient: Patient = any(),
        /// Tubing, outlet valve and leak.
        circuit: Circuit = any().or_empty(),
        /// The controls.
        ventilator: Ventilator = any(),
        /// The run ends at this time; the breath under way is reported as unfinished.
        duration_s: f64 = number(0.1, LONGEST_RUN_S).hint("a run lasts at most one day, 86400 s"),
        /// What changes during the run, in order of time.
        timeline: Vec<TimelineEntry> = list(0, 1000).or_empty(),
    }
}
