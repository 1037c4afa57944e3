//! One run among several.

use tidewright_scenario::block;
use tidewright_scenario::format::Change;
use tidewright_scenario::read::{list, text};

block! {
    /// The same run with changes that hold from the start.
    pub struct Variant {
        /// What it is, in a few words.
        label: String = text(40),
        /// The changes.
        set: Vec<Change> = list(0, 20).or_empty(),
    }
}
