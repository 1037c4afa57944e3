//! Steps of gas one after the other.

use super::breathing::{Moved, Passed};
use super::{Conditions, Exchange, GasState};

/// Step after step: the halves of exchange with blood between two movements are one.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Strides {
    /// Time for which gas has moved and not yet met blood, s.
    owed_s: f64,
}

impl Strides {
    pub fn step(
        &mut self,
        exchange: &Exchange,
        state: &mut GasState,
        moved: &Moved,
        now: &Conditions,
    ) -> Passed {
        self.owed_s += moved.step_s / 2.0;
        self.end(exchange, state, now);
        self.owed_s = moved.step_s / 2.0;
        exchange.move_gas(state, moved, now)
    }

    /// Lets blood meet the gas for what is owed.
    pub fn end(&mut self, exchange: &Exchange, state: &mut GasState, now: &Conditions) {
        if self.owed_s > 0.0 {
            exchange.meet_blood(state, now, self.owed_s);
        }
        self.owed_s = 0.0;
    }
}
