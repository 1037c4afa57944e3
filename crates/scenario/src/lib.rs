//! Scenario files: what is asked of a run, and what a run reports.
//!
//! A scenario is a text in RON or JSON (see [`mod@format`]). [`parse`] turns it
//! into a [`Scenario`], or into all of its faults at once, each with its place,
//! what was expected there and one way to mend it:
//!
//! ```
//! let text = r#"Scenario(
//!     format: 1,
//!     id: "grey-cat",
//!     patient: (species: Cat, weight_kg: 4.5),
//!     ventilator: (
//!         fresh_gas_flow_l_min: 2.2,
//!         cycling_presure_cmh2o: 8,
//!         inspiratory_time_limit_s: 1.8,
//!         expiratory_time_s: 2.6,
//!     ),
//!     duration_s: 60,
//! )"#;
//! let rejected = tidewright_scenario::parse("grey-cat.ron", text).unwrap_err();
//! let fault = &rejected.faults()[0];
//! assert_eq!(fault.to_string(), "`ventilator` has no field `cycling_presure_cmh2o`");
//! assert_eq!(fault.mend(), "did you mean `cycling_pressure_cmh2o`?");
//! assert_eq!(rejected.place(fault).line, 7);
//! ```
//!
//! This crate opens no file and prints nothing.

// The declarations of the format name this crate from other crates too.
extern crate self as tidewright_scenario;

mod checks;
pub mod fault;
mod file;
pub mod format;
pub mod measure;
mod offered;
mod pace;
mod protocol;
#[doc(hidden)]
pub mod read;
mod reference;
pub mod report;
#[doc(hidden)]
pub mod text;
mod visible;
mod weight;

pub use fault::{Fault, Rejected};
pub use file::journal::is_journal;
pub use file::parse::{
    LARGEST_FILE, check_act, is_attempt, is_scenario, parse, parse_as, parse_attempt, parse_bytes,
    parse_sealed, text_of,
};
pub use format::{Attempt, Scenario};
pub use offered::{Offer, Offered, offered};
pub use pace::TEMPERATURE_STEP_S;
pub use protocol::GasNumbers;
pub use reference::{reference, reference_of};
pub use text::{Dialect, Span};
pub use visible::{cell, delimiter, visible};

/// The built-in scenario: a 4.5 kg cat's first breaths, and a leak that opens
/// half-way.
pub const DEMO: &str = include_str!("first-breaths-and-a-leak.ron");
