//! Whole runs: a protocol of timed changes, with gas and drive or without, and the
//! breath that a machine settles to.

pub mod coupled;
pub(crate) mod repeat;
pub mod run;
pub mod steady;
