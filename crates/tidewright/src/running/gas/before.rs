//! The breath that a run begins in the midst of.

use super::GasPlan;
use super::strained::share_kept;
use crate::animal::blood::Tensions;
use crate::base::quantity::Pressure;
use crate::exchange::{Exchange, Moved, USUAL_STEPS, walk};
use crate::plant::signal::Signal;
use crate::running::steady::{Periodic, periodic_within};
use crate::setup::Mode;
use crate::stepping::machine::Machine;
use crate::stepping::phase::Cause;
use crate::stepping::piece::Stretch;
use crate::stepping::step::{Moment, step};

/// Breaths after which a breath that does not settle sooner is not waited for.
const MOST_TRIES: u32 = 60;
/// Breaths of its own of which the last is that before the start.
const OWN_BREATHS: u32 = 3;

/// The breath that a ventilator settles to, where that is soon known.
pub(super) fn settled(machine: &Machine) -> Option<Periodic> {
    periodic_within(machine, MOST_TRIES).ok()
}

/// The fading mean of alveolar pressure under settled breaths: at the start of each, and
/// its own mean over one.
#[derive(Clone, Copy)]
pub(super) struct MeanPressure {
    pub at_start: Pressure,
    pub over_breath: Pressure,
}

impl MeanPressure {
    pub fn of(machine: &Machine, settled: &Periodic) -> Option<Self> {
        let (mut pieces, mut moment) = (Vec::new(), settled.start);
        loop {
            let done = step(machine, &moment, f64::INFINITY).ok()?;
            let lasts_s = done.piece.duration_s;
            if lasts_s > 0.0 {
                let sum = done.piece.integral(Signal::AlveolarPressure);
                pieces.push((lasts_s, sum / lasts_s));
            }
            if done.piece.ended_by == Some(Cause::ExpiratoryTimeOver) {
                break;
            }
            moment = done.next;
        }
        let fade =
            |mean: f64, &(lasts_s, here): &(f64, f64)| here + (mean - here) * share_kept(lasts_s);
        let all_s: f64 = pieces.iter().map(|&(lasts_s, _)| lasts_s).sum();
        // What comes back to itself: x = kept·x + rest.
        let rest = pieces.iter().fold(0.0, fade);
        let at_start = rest / (1.0 - share_kept(all_s));
        let (mut mean, mut sum) = (at_start, 0.0);
        for piece in &pieces {
            mean = fade(mean, piece);
            sum += mean * piece.0;
        }
        let [at_start, over_breath] = [at_start, sum / all_s].map(Pressure::cmh2o);
        Some(Self { at_start, over_breath })
    }
}

/// What moves in one breath of those that went before the start of a run: the settled one
/// of the ventilator, or while that stands by the one that the patient draws. Nothing
/// where nobody breathes.
pub(super) fn breath_before(
    machine: &Machine,
    settled: Option<&Periodic>,
    exchange: &Exchange,
    plan: &GasPlan,
    blood: &Tensions,
) -> Vec<Moved> {
    let found = match (settled, plan.start.drive) {
        (Some(settled), _) => of_ventilator(machine, settled, exchange),
        (None, Some(drive)) if machine.setup().ventilator.mode == Mode::Standby => {
            let drive = drive.at_oxygen(blood.oxygen);
            drive.next_breath(blood.carbon_dioxide).and_then(|own| {
                let mut moment = Moment::at_rest(machine);
                let mut moves = Vec::new();
                for _ in 0..OWN_BREATHS {
                    moves.clear();
                    moment = moment.breathing_in(own.amplitude(&plan.animal), own.inspiration());
                    let mut left_s = own.period.as_s();
                    while left_s > 0.0 {
                        let from_s = moment.at_s;
                        moment = along(machine, &moment, left_s, exchange, &mut moves)?.0;
                        left_s -= moment.at_s - from_s;
                    }
                }
                Some(moves)
            })
        }
        (None, _) => None,
    };
    found.unwrap_or_default()
}

fn of_ventilator(machine: &Machine, settled: &Periodic, exchange: &Exchange) -> Option<Vec<Moved>> {
    let (mut moves, mut moment) = (Vec::new(), settled.start);
    loop {
        let (next, ended_by) = along(machine, &moment, f64::INFINITY, exchange, &mut moves)?;
        if ended_by == Some(Cause::ExpiratoryTimeOver) {
            return Some(moves);
        }
        moment = next;
    }
}

/// A step of the engine and what moves in it.
fn along(
    machine: &Machine,
    moment: &Moment,
    horizon_s: f64,
    exchange: &Exchange,
    moves: &mut Vec<Moved>,
) -> Option<(Moment, Option<Cause>)> {
    let done = step(machine, moment, horizon_s).ok()?;
    let ended_by = done.piece.ended_by;
    let stretch = Stretch::from(done.piece);
    walk(exchange, &stretch, USUAL_STEPS, |moved, _, _, _| moves.push(*moved));
    Some((done.next, ended_by))
}
