//! Targets for fuzzing: each takes bytes, makes of them what a careless or a hostile
//! person could hand in, and panics where a library does not keep its word.
//!
//! The bytes are choices (see [`choices`]): which file to begin with, where to change it,
//! what to put there. So the same targets serve the plain loop of `hunt` on a stable
//! compiler and a fuzzer guided by coverage.

pub mod choices;
mod doors;
mod grammar;
mod mutate;
mod seeds;
pub mod spent;
mod targets;

pub use targets::{TARGETS, Target, mutated, run_ten_minutes, scenario_or_lesson, show};
