//! What everything stands on: quantities with their units, one source of
//! elementary functions, random numbers.

pub mod bracket;
pub mod math;
pub mod quantity;
pub mod random;
pub(crate) mod revision;
