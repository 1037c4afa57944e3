//! Settled breathing, recognised.
//!
//! The laws know no time of day: what happens from a moment on hangs on the state
//! of that moment alone (law 7). So when a breath ends in a state that is, bit for
//! bit, one in which an earlier breath began, what follows is what followed then,
//! bit for bit, only later; and so on until the setup changes or the run ends.
//! [`crate::run::Simulation::breaths`] writes such breaths down instead of working
//! them out. Whatever is not the same to the last bit is worked out. Rounding often
//! leads settled breathing through a few states in turn, so a turn of several
//! breaths counts as well.

use crate::base::quantity::Seconds;
use crate::reading::breath::Breath;
use crate::setup::Ventilator;
use crate::stepping::piece::Piece;
use crate::stepping::step::{MAX_STEPS_IN_TEN_SECONDS, Moment};

/// Watches a run for a breath that ends in the state in which one began.
#[derive(Debug, Default)]
pub(crate) struct Repeat {
    /// The state that later ones are compared with: where the first of the breaths
    /// watched began.
    began: Option<Moment>,
    /// How long each of their pieces lasted, and how many pieces each had.
    durations_s: Vec<f64>,
    pieces: Vec<usize>,
    /// After how many breaths to compare with a newer state (Brent's way of
    /// finding a cycle).
    patience: usize,
}

/// The longest turn that is looked for, in breaths.
const LONGEST_TURN: usize = 16;
/// Pieces shorter than this, s, might be lost on the clock later in a run, and the
/// count of changes at one instant with them. Such breaths are worked out.
const SHORTEST_PIECE_S: f64 = 1e-6;
/// Up to this time of a run, s, the clock shows far shorter pieces than that.
const LATEST_S: f64 = 1e8;
/// Only over shorter breaths than this, s, could law 6 have its say.
const SHORTEST_BREATH_S: f64 = 0.05;

impl Repeat {
    /// Takes note of a piece.
    #[inline]
    pub fn note(&mut self, piece: &Piece<'_>) {
        self.durations_s.push(piece.duration_s);
    }

    /// What is not a breath from beginning to end has no part in a turn.
    #[inline]
    pub fn forget(&mut self) {
        self.began = None;
    }

    /// The last of `breaths` has just ended at `moment`, and the next begins.
    /// Writes down all turns of breaths that must follow before `until_s`, moves
    /// the clock on, and says how many breaths that were.
    #[inline]
    pub fn breath_ended(
        &mut self,
        breaths: &mut Vec<Breath>,
        moment: &mut Moment,
        until_s: f64,
        settings: &Ventilator,
    ) -> u64 {
        let Some(began) = &self.began else {
            self.watch_from(moment, 1);
            return 0;
        };
        let before: usize = self.pieces.iter().sum();
        self.pieces.push(self.durations_s.len() - before);
        if began.goes_on_as(moment) {
            let count = self.write_down(breaths, moment, until_s, settings);
            self.watch_from(moment, 1);
            return count;
        }
        if self.pieces.len() == self.patience {
            self.watch_from(moment, (2 * self.patience).min(LONGEST_TURN));
        }
        0
    }

    fn watch_from(&mut self, moment: &Moment, patience: usize) {
        self.began = Some(*moment);
        self.durations_s.clear();
        self.pieces.clear();
        self.patience = patience;
    }

    /// Whether turn upon turn might come near the work that is allowed: a run that is
    /// refused for it is refused with or without being recognised.
    fn is_work(&self, moment: &Moment) -> bool {
        let most = 0.5 * f64::from(MAX_STEPS_IN_TEN_SECONDS);
        let Some(began) = &self.began else { return false };
        let lasts_s = moment.at_s - began.at_s;
        let left = f64::from(began.steps_counted) * (1.0 - lasts_s / 10.0).max(0.0);
        let steps = f64::from(moment.steps_counted) - left;
        f64::from(moment.steps_counted) > most || 10.0 * steps > most * lasts_s
    }

    fn write_down(
        &self,
        breaths: &mut Vec<Breath>,
        moment: &mut Moment,
        until_s: f64,
        settings: &Ventilator,
    ) -> u64 {
        if self.is_work(moment) {
            return 0;
        }
        let turn = breaths[breaths.len() - self.pieces.len()..].to_vec();
        let shows = |&duration_s: &f64| duration_s == 0.0 || duration_s > SHORTEST_PIECE_S;
        let long_enough = |breath: &Breath| {
            breath.inspiratory_time + breath.expiratory_time > Seconds::s(SHORTEST_BREATH_S)
        };
        if !self.durations_s.iter().all(shows) || !turn.iter().all(long_enough) {
            return 0;
        }
        // A phase that the end of the run cuts short is not like the one before;
        // none of them lasts longer than its clock allows.
        let most =
            settings.inspiratory_time_limit + settings.valve_delay + settings.expiratory_time;
        let most_s = (most.as_s() * (1.0 + 1e-9) + SHORTEST_PIECE_S) * turn.len() as f64;
        let mut number = turn.last().map_or(0, |breath| breath.number);
        let first = number;
        while until_s - moment.at_s > most_s && moment.at_s < LATEST_S {
            let mut durations_s = self.durations_s.iter();
            for (breath, &pieces) in turn.iter().zip(&self.pieces) {
                number += 1;
                breaths.push(Breath { number, start: Seconds::s(moment.at_s), ..*breath });
                // As the clock adds them up.
                for duration_s in durations_s.by_ref().take(pieces) {
                    moment.at_s += duration_s;
                }
            }
        }
        number - first
    }
}

#[cfg(test)]
mod tests {
    use crate::prelude::*;

    fn worked_out(setup: Setup) -> (usize, usize) {
        let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(600.0) };
        let run = Simulation::new(&protocol).unwrap().measure(true).unwrap();
        (run.worked_out, run.breaths.len())
    }

    #[test]
    fn a_settled_cat_is_recognised_and_a_panting_one_is_not() {
        let (worked_out_alone, all) = worked_out(Setup::default());
        assert!(worked_out_alone < 20 && all > 100, "{worked_out_alone} of {all}");
        let mut curved = Setup::default();
        curved.circuit.leak = Some(Leak::orifice(Flow::ml_s(5.0), Pressure::cmh2o(30.0)));
        let (worked_out_alone, all) = worked_out(curved);
        assert!(worked_out_alone < all / 2, "{worked_out_alone} of {all} on the numeric road");
        let mut panting = Setup::default();
        panting.lung =
            Lung::single(Compliance::ml_per_cmh2o(12.0), Resistance::cmh2o_s_per_l(10.0));
        panting.circuit.compliance = Compliance::ml_per_cmh2o(0.3);
        panting.circuit.valve_resistance = Resistance::cmh2o_s_per_l(2.5);
        panting.ventilator.fresh_gas_flow = Flow::ml_s(40.0);
        panting.ventilator.cycling_pressure = Pressure::cmh2o(10.0);
        panting.ventilator.inspiratory_time_limit = Seconds::s(3.0);
        panting.ventilator.expiratory_time = Seconds::s(1.2);
        panting.effort = Effort::breaths(Pressure::cmh2o(3.0), Seconds::s(0.31), Seconds::s(0.703));
        let (worked_out_alone, all) = worked_out(panting);
        assert_eq!(worked_out_alone, all);
    }
}
