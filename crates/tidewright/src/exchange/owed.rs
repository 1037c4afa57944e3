//! What blood and gas owe each other between two meetings.

use super::stores::alveoli::{MAX_SPACES, SpaceState};

/// No meeting is shorter: what is left of a sum of times is waited with, s.
pub(super) const SHORTEST_S: f64 = 1e-9;

/// How blood keeps step with the gas that moves.
///
/// Movement and exchange with blood take turns. A meeting stands in the midst of the
/// movement of the time that it stands for, so what the turns do to the result falls with
/// the square of that time. Where nothing moves, a meeting is as long as its own error
/// allows, which is estimated each time, and what it brings comes evenly over its time.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Strides {
    /// Time for which gas has moved and not yet met blood, s; negative when blood is ahead.
    pub owed_s: f64,
    /// Length of a meeting that the last estimate allows, s; 0 before the first.
    pub allowed_s: f64,
    /// Gas that moved since the last meeting, mL.
    pub moved_ml: f64,
    /// What spaces are still to get of a meeting in a pause.
    pub coming: Coming,
}

/// Gas that spaces get evenly over a time, mL/s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(super) struct Coming {
    pub left_s: f64,
    pub paces: [SpaceState; MAX_SPACES],
}

impl Coming {
    /// Takes back what spaces got since `before`, to let it come evenly over a time (s).
    pub fn begin(
        &mut self,
        before: &[SpaceState; MAX_SPACES],
        spaces: &mut [SpaceState; MAX_SPACES],
        lasts_s: f64,
    ) {
        self.left_s = lasts_s;
        for ((pace, before), now) in self.paces.iter_mut().zip(before).zip(&mut *spaces) {
            *pace = now.beyond(before).times(1.0 / lasts_s);
        }
        *spaces = *before;
    }

    /// Lets come what does in a step (s).
    pub fn reach(&mut self, spaces: &mut [SpaceState], step_s: f64) {
        if self.left_s <= 0.0 {
            return;
        }
        let all = self.left_s - step_s < SHORTEST_S;
        let lasts_s = if all { self.left_s } else { step_s };
        for (gas, pace) in spaces.iter_mut().zip(&self.paces) {
            gas.get(&pace.times(lasts_s));
        }
        self.left_s = if all { 0.0 } else { self.left_s - step_s };
    }
}
