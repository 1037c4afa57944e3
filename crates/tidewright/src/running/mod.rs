//! Whole runs, from the ground up: the gas of a run; a run that one owns, in which
//! breath, gas and drive meet; a protocol of timed changes along it, with gas or
//! without; and the breath that a machine settles to.

pub mod coupled;
mod gas;
pub mod live;
pub(crate) mod repeat;
pub mod run;
pub mod steady;
