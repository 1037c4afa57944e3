//! Computations over many breaths and many patients: what a practitioner works out
//! in the head, done with the real model, and the numbers that teachers and
//! researchers want.
//!
//! - [`mod@plan`]: the settings that give a wanted breath, and why;
//! - [`mod@sweep`]: one or two fields of a scenario over ranges or lists;
//! - [`mod@cohort`]: many patients drawn by chance, each ventilated;
//! - [`mod@fit`]: resistance and compliance from a recorded waveform;
//! - [`batch`]: breaths of many plain machines side by side.
//!
//! The library opens no file, reads no clock and prints nothing.

mod axis;
pub mod batch;
pub mod cohort;
mod field;
pub mod fit;
mod inspiration;
pub mod plan;
mod root;
pub mod sweep;
mod table;

pub use field::{Field, FieldError, set_all};
pub use table::digits;

pub use tidewright_scenario::measure::{
    BreathMeasure as Metric, UnknownMeasure as UnknownMetric, ended_by,
};

/// The caution that stands on every answer a person reads.
pub use tidewright_scenario::report::BANNER as CAUTION;
