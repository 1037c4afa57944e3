//! Computations over many breaths and many patients: what a practitioner works out
//! in the head, done with the real model, and the numbers that teachers and
//! researchers want.
//!
//! - [`mod@plan`]: the settings that give a wanted breath, and why.
//!
//! The library opens no file, reads no clock and prints nothing.

mod inspiration;
pub mod plan;
mod root;

/// The caution that stands on every answer a person reads.
pub const CAUTION: &str = "For teaching only. Not a medical device. Simulated animals and equipment: \
    real ones differ. Do not use for decisions about a patient. Follow the veterinary surgeon in \
    charge, local law, your workplace rules and the instructions of the equipment in front of you.";
