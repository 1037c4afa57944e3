//! Whole texts: read into a scenario or an attempt, and written again.

pub(crate) mod journal;
pub(crate) mod parse;
pub(crate) mod size;
pub(crate) mod write;
