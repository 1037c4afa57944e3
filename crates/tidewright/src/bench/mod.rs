//! What is done with a ventilator before its first patient: the leak test with a thumb,
//! the quick test with a shut port, a look at the running hours.
//!
//! Closed forms beside the engine: `tests/tests/bench.rs` holds each against machines
//! that are run.

mod hours;
mod short_cycles;
mod squeeze;

pub use hours::{HoursError, RunningHours, Service, ServiceRule};
pub use short_cycles::{Cycle, ShortCycles};
pub use squeeze::{ATMOSPHERE, Squeeze, squeeze_needed};
