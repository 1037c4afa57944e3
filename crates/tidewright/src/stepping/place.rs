//! Places that hold gas, and what cannot become of them during a run.

use thiserror::Error;

use crate::plant::plan::{FIRST_COMPARTMENT, T_PIECE, VALVE_END};
use crate::setup::MAX_COMPARTMENTS;

/// A place that holds gas.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Place {
    /// The T-piece and its tubing, where the circuit has a compliance.
    TPiece,
    /// The valve end of the limb, where the limb has one.
    ValveEnd,
    /// A compartment of the lung, by its index.
    Compartment(usize),
}

impl Place {
    pub(crate) fn node(self) -> Option<usize> {
        match self {
            Self::TPiece => Some(T_PIECE),
            Self::ValveEnd => Some(VALVE_END),
            Self::Compartment(index) => {
                (index < MAX_COMPARTMENTS).then_some(FIRST_COMPARTMENT + index)
            }
        }
    }
}

/// A place that holds gas would vanish, or one appear that would have to hold gas
/// already.
#[derive(Clone, Copy, Debug, Error, PartialEq, Eq)]
#[error(
    "the {place} cannot come or go during a run, as its gas would have no place: describe it from the \
     start (a very small compliance makes it hold almost nothing)"
)]
pub struct Misplaced {
    /// What holds the gas.
    pub place: &'static str,
}
