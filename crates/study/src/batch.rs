//! Breaths of many plain machines, as fast as the arithmetic allows.
//!
//! The general engine takes any setup. Most patients of a cohort are plain: one
//! compartment, a compressible circuit, everything linear ([`TwoNode`]). Their
//! breaths are here computed in [`Block`]s, several side by side, with a handful of
//! multiplications each; whatever is not of the plain kind is handed to the general
//! engine for that breath. Both give the same breaths within 1e-12, and the number
//! of lanes does not change a bit.
//!
//! ```
//! use tidewright::prelude::*;
//! use tidewright_study::batch::{Block, Breaths, TwoNode};
//! let cat = TwoNode::of(&Setup::default()).unwrap();
//! let stiff = TwoNode { lung_compliance: 3.0, ..cat };
//! let mut block = Block::new(&[cat, stiff]);
//! let mut breaths = Breaths::default();
//! block.breath(&mut breaths)?;
//! let volume = breaths.inspired_tidal_volume_ml;
//! assert!((volume[1] / volume[0] - 0.5).abs() < 0.01);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use thiserror::Error;
use tidewright::setup::SetupError;
use tidewright::steady::SteadyError;

mod block;
mod functions;
mod lanes;
mod modes;
mod two_node;

pub use block::{Block, Breaths};
pub use two_node::TwoNode;

/// A breath that the general engine had to do and could not; a sound machine gives
/// it no reason.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum BatchError {
    /// The machine cannot be run.
    #[error(transparent)]
    Setup(#[from] SetupError),
    /// Its breath does not end.
    #[error(transparent)]
    Steady(#[from] SteadyError),
}
