//! The pool of cases that a lesson hides.

use super::{FaultKind, Id, LONGEST_RUN_S, Onset};
use crate::read::{any, block, list, number, text};

block! {
    /// A case of the pool: what goes wrong and when. The seed draws one case,
    /// and its onset between the two times.
    pub struct Case {
        /// Short name, for the debrief.
        id: Id = text(64),
        /// What it is, in words.
        says: String = text(200),
        /// Earliest onset.
        onset_from_s: f64 = number(0.0, LONGEST_RUN_S),
        /// Latest onset.
        onset_to_s: f64 = number(0.0, LONGEST_RUN_S),
        /// What happens from the onset on; a later stage replaces the one before. A
        /// chest or abdomen that is free again in the last stage, with a severity of 0,
        /// is pressed on purpose: calling the surgeon does not end it sooner.
        course: Vec<Stage> = list(1, 100),
    }
}

block! {
    /// A stage of a case.
    pub struct Stage {
        /// Time since the onset.
        after_s: f64 = number(0.0, LONGEST_RUN_S).or(0.0),
        /// What is wrong from then on.
        is: FaultKind = any(),
        /// How it comes.
        onset: Onset = any().or_word("Step"),
    }
}
