//! The breath that a setup settles to.

use tidewright::machine::Machine;
use tidewright::setup::Setup;
use tidewright::steady::{Periodic, periodic};

use super::error::PlanError;

/// A setup made ready and the breath it settles to.
pub(super) fn settle(setup: &Setup) -> Result<(Machine, Periodic), PlanError> {
    let machine = Machine::new(setup.clone())?;
    let settled = periodic(&machine)?;
    Ok((machine, settled))
}
