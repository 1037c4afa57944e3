//! What differs between the students of a class.

use crate::read::{block, number};

block! {
    /// How far the cases of a class differ, so that no two students have the same
    /// animal. A session without a dealt file has the scenario's own.
    pub struct Varies {
        /// How far the weight may lie from the patient's, either way, within what
        /// animals of its kind weigh; lung, tube, dead space and metabolism follow it
        /// by the laws of the species. Grown animals of one kind differ by about a
        /// fifth (from memory). 0 for a lesson that needs this very weight.
        weight_percent: f64 = number(0.0, 40.0).or(15.0),
        /// How far the odds s/(1 − s) of each severity of the pool may lie from the
        /// file's, either way; a severity of 0 or 1 stays (a teaching choice). 0 for
        /// a lesson that needs these very severities.
        severity_percent: f64 = number(0.0, 60.0).or(20.0),
    }
}

block! {
    /// What a class was dealt for one student.
    pub struct Dealt {
        /// The patient's weight, in the place of the scenario's.
        weight_kg: f64 = number(0.01, 1500.0),
        /// What the odds s/(1 − s) of each severity of the pool are multiplied by.
        severity_factor: f64 = number(0.5, 2.0),
    }
}
