//! A machine made ready, and the one pure function that takes it from a moment to
//! the end of its phase.

pub(crate) mod error;
pub mod machine;
pub mod phase;
pub mod piece;
pub(crate) mod place;
pub mod step;
