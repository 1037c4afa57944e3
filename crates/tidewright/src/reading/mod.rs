//! What is read from the pieces afterwards: breaths, traces, instruments.

pub mod breath;
pub mod instrument;
pub mod trace;
