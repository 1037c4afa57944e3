//! Steps of gas one after the other: how often blood meets the gas that moves.

use super::breathing::{Moved, Passed};
use super::owed::{SHORTEST_S, Strides};
use super::stores::alveoli::SpaceState;
use super::system::{Conditions, Exchange, GasState};

/// Change of alveolar gas, as a share of it, by which the midpoint rule of a meeting may
/// differ from the straight line through its start: 0.1 mmHg. Its own error is far less.
const TOLERANCE: f64 = 1.6e-4;
/// A meeting lasts at most so many of the longest steps.
const MOST_STEPS: f64 = 4.0;
/// Share of the lung's relaxed gas that moves in the time of one meeting at most.
const MOST_OF_LUNG: f64 = 0.01;

/// A step that was planned so many times as long is short.
const SHORT: f64 = 4.0;

impl Strides {
    /// A step of a length that is given from outside: blood meets the gas in its midst.
    pub fn step(
        &mut self,
        exchange: &Exchange,
        state: &mut GasState,
        moved: &Moved,
        now: &Conditions,
    ) -> Passed {
        self.meet(exchange, state, now, self.owed_s + moved.step_s / 2.0);
        self.owed_s += moved.step_s;
        exchange.move_gas(state, moved, now)
    }

    /// A step along a stretch of a run: blood meets the gas where it is time.
    pub fn stride(
        &mut self,
        exchange: &Exchange,
        state: &mut GasState,
        moved: &Moved,
        now: &Conditions,
        within: &Within,
    ) -> Passed {
        if self.coming.left_s <= 0.0 {
            self.meet_in_time(exchange, state, moved.step_s, now, within);
        }
        let count = exchange.spaces.len();
        self.coming.reach(&mut state.way.spaces[..count], moved.step_s);
        self.owed_s += moved.step_s;
        self.moved_ml += within.moves_ml;
        exchange.move_gas(state, moved, now)
    }

    fn meet_in_time(
        &mut self,
        exchange: &Exchange,
        state: &mut GasState,
        step_s: f64,
        now: &Conditions,
        within: &Within,
    ) {
        // What a meeting brings must not turn the flow of a step that was cut short.
        if SHORT * step_s < within.planned_s {
            return;
        }
        let lung_ml: f64 = exchange.relaxed_ml.iter().sum();
        let allowed_s = self.allowed_s.min(MOST_STEPS * within.longest_s);
        let much = self.moved_ml + within.moves_ml > MOST_OF_LUNG * lung_ml;
        // What blood takes up is drawn from the airway. Where next to nothing moves, all that
        // a longer meeting takes would come in with one step and turn its flow.
        let little =
            within.moves_ml * within.longest_s < now.demand.oxygen_ml_s * allowed_s * step_s;
        if little {
            let ahead_s = (allowed_s.min(within.left_s) / step_s + ROUNDING).floor() * step_s;
            if ahead_s > step_s {
                let before = state.way.spaces;
                self.meet(exchange, state, now, self.owed_s + ahead_s);
                self.coming.begin(&before, &mut state.way.spaces, ahead_s);
            } else {
                self.meet(exchange, state, now, self.owed_s + step_s / 2.0);
            }
        } else if self.owed_s > SHORTEST_S && (2.0 * self.owed_s >= allowed_s || much) {
            self.meet(exchange, state, now, (2.0 * self.owed_s).min(self.owed_s + within.left_s));
        }
    }

    /// Lets blood meet the gas for what is owed.
    pub fn end(&mut self, exchange: &Exchange, state: &mut GasState, now: &Conditions) {
        self.coming.reach(&mut state.way.spaces, self.coming.left_s);
        self.meet(exchange, state, now, self.owed_s);
    }

    /// Gas that blood has exchanged with a space and that is still to come, mL.
    pub fn coming(&self, space: usize) -> SpaceState {
        self.coming.paces[space].times(self.coming.left_s)
    }

    fn meet(&mut self, exchange: &Exchange, state: &mut GasState, now: &Conditions, lasts_s: f64) {
        self.moved_ml = 0.0;
        if lasts_s <= SHORTEST_S {
            return;
        }
        let allowed_s = if self.allowed_s > 0.0 { self.allowed_s } else { lasts_s };
        let parts = (lasts_s / allowed_s).ceil().clamp(1.0, MOST_PARTS);
        let part_s = lasts_s / parts;
        let (mut done, mut off) = (0.0, 0.0_f64);
        while done < parts {
            off = off.max(exchange.meet_blood(state, now, part_s));
            done += 1.0;
        }
        // What is off grows with the square of the time.
        let times = 0.9 * (TOLERANCE / off.max(1e-12)).sqrt();
        self.allowed_s = (part_s * times.max(0.2)).min(LONGEST_S);
        self.owed_s -= lasts_s;
    }
}

/// By which even steps may fall short of what they add up to, as a share of one.
const ROUNDING: f64 = 1e-6;
/// No meeting is allowed to be longer, s.
const LONGEST_S: f64 = 1.0;
/// Parts of a meeting at most.
const MOST_PARTS: f64 = 16.0;

/// A stride's place in its stretch.
#[derive(Clone, Copy, Debug)]
pub(super) struct Within {
    /// From its start to the end of the stretch, s.
    pub left_s: f64,
    /// Gas that moves in it to or from any compartment, mL.
    pub moves_ml: f64,
    /// How long it was to be before a flow turned in it, s.
    pub planned_s: f64,
    /// No step of the stretch is longer, s.
    pub longest_s: f64,
}

impl Exchange {
    /// Goes on by a step in which gas moved.
    pub fn step(&self, state: &mut GasState, moved: &Moved, now: &Conditions) -> Passed {
        let mut strides = Strides::default();
        let passed = strides.step(self, state, moved, now);
        strides.end(self, state, now);
        passed
    }
}
