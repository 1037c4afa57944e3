//! The breath that every later breath repeats, found without waiting for it.
//!
//! From the start of one inspiration to the start of the next, a machine maps
//! the gas stored in it to the gas stored one breath later: x → f(x). Settled
//! breathing is the fixed point f(x) = x. Waiting for it is slow where gas is
//! trapped or tissue creeps; here the differences r = f(x) − x of the last tries
//! tell where the next try should start (Anderson's method: x + r, less the
//! combination of earlier differences that best cancels r). Where a breath is an
//! affine map, as on time-ended breaths of a linear machine, that is exact after
//! one try more than there are places that hold gas.
//!
//! Source: Anderson 1965, J ACM 12:547 (form from memory).

use thiserror::Error;

use crate::base::quantity::{Seconds, Volume};
use crate::plant::network::{MAX_NODES, NodeVec};
use crate::reading::breath::{Breath, BreathMeter};
use crate::setup::{Course, Effort, Mode};
use crate::stepping::machine::{Machine, Signal};
use crate::stepping::phase::{Cause, PhaseKind};
use crate::stepping::piece::Piece;
use crate::stepping::step::{Moment, StepError, step, step_on};

/// A breath that leaves the gas where it found it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Periodic {
    /// The start of its inspiration, at time zero.
    pub start: Moment,
    /// The breath.
    pub breath: Breath,
    /// How far the gas after the breath is from the gas before it, at the place
    /// where they differ most: rounding, or the error of the numeric road.
    pub mismatch: Volume,
    /// Breaths that were computed to find it.
    pub tried: u32,
}

/// Why no breath repeats itself.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum SteadyError {
    /// The ventilator stands by.
    #[error("the ventilator stands by, so there are no breaths to settle")]
    Standby,
    /// The patient's muscle pressure comes and goes at a pace of its own.
    #[error(
        "the patient's own effort comes and goes at its own pace, so no breath need be like the \
         one before: run the machine for a time instead"
    )]
    Effort,
    /// The breaths went on changing.
    #[error(
        "the breaths do not settle: after {tried} of them the gas somewhere in the machine still \
         changes by {mismatch_ml:.3} mL from one breath to the next"
    )]
    Changing {
        /// Breaths computed.
        tried: u32,
        /// The smallest difference seen, mL.
        mismatch_ml: f64,
    },
    /// A breath could not be computed.
    #[error(transparent)]
    Step(#[from] StepError),
}

/// The breath that a machine settles to, from rest.
///
/// Gas behind something that is shut stays as it is at rest. Where a machine
/// could settle to more than one breath, this is one of them.
///
/// # Errors
/// [`SteadyError`] where no breath repeats itself.
///
/// ```
/// use tidewright::prelude::*;
/// // An expiratory time of two time constants leaves gas behind.
/// let mut setup = Setup::default();
/// setup.ventilator.expiratory_time = Seconds::s(0.3);
/// let machine = Machine::new(setup)?;
/// let settled = tidewright::steady::periodic(&machine)?;
/// let breath = settled.breath;
/// assert!((breath.inspired_tidal_volume - breath.expired_tidal_volume).as_ml().abs() < 1e-12);
/// assert!(breath.end_expiratory_alveolar_pressure.as_cmh2o() > 1.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn periodic(machine: &Machine) -> Result<Periodic, SteadyError> {
    periodic_within(machine, PATIENT)
}

/// How long a search goes on.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Most {
    /// Breaths tried.
    pub tries: u32,
    /// Pieces of them worked out: those of a breath of minutes are thousands.
    pub pieces: u32,
}

/// As [`periodic`], with so much work at most.
pub(crate) fn periodic_within(machine: &Machine, most: Most) -> Result<Periodic, SteadyError> {
    let setup = machine.setup();
    if setup.ventilator.mode == Mode::Standby {
        return Err(SteadyError::Standby);
    }
    if !is_constant(&setup.effort) {
        return Err(SteadyError::Effort);
    }
    settle(machine, most)
}

/// One breath from the start of an inspiration to the start of the next, and
/// the moment at which the next begins.
///
/// # Errors
/// As [`step`]; and [`SteadyError::Standby`] where the ventilator stands by.
///
/// ```
/// use tidewright::prelude::*;
/// let machine = Machine::new(Setup::default())?;
/// let (first, next) = tidewright::steady::one_breath(&machine, &Moment::at_rest(&machine))?;
/// let (second, _) = tidewright::steady::one_breath(&machine, &next)?;
/// assert!(second.inspired_tidal_volume < first.inspired_tidal_volume);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn one_breath(machine: &Machine, from: &Moment) -> Result<(Breath, Moment), SteadyError> {
    let mut meter = BreathMeter::default();
    let mut moment = *from;
    loop {
        if moment.phase == PhaseKind::Standby {
            return Err(SteadyError::Standby);
        }
        let done = step(machine, &moment, f64::INFINITY)?;
        moment = done.next;
        if let Some(breath) = meter.take_piece(&done.piece) {
            return Ok((breath, moment));
        }
    }
}

/// What the search needs to know of a breath; what else a breath is costs more to measure.
struct Passed {
    lasts_s: f64,
    inspired_ml: f64,
    next: Moment,
}

/// Why a breath was not worked out to its end.
enum Stopped {
    By(StepError),
    /// No pieces are left.
    UsedUp,
}

impl Passed {
    /// The breath from a moment on, with so many pieces left for it.
    fn from(machine: &Machine, mut moment: Moment, left: &mut u32) -> Result<Self, Stopped> {
        let mut piece = Piece::none(machine, &moment);
        let (mut lasts_s, mut inspired) = (0.0, None::<(f64, f64)>);
        loop {
            *left = left.checked_sub(1).ok_or(Stopped::UsedUp)?;
            step_on(machine, &mut moment, f64::INFINITY, &mut piece).map_err(Stopped::By)?;
            lasts_s += piece.duration_s;
            if piece.phase.is_inspiration() {
                let first = inspired.map_or_else(|| piece.first(Signal::LungVolume), |ml| ml.0);
                inspired = Some((first, piece.last(Signal::LungVolume)));
            }
            if let (Some((first, last)), Some(Cause::ExpiratoryTimeOver)) =
                (inspired, piece.ended_by)
            {
                return Ok(Self { lasts_s, inspired_ml: last - first, next: moment });
            }
        }
    }
}

/// For who wants it at any cost.
const PATIENT: Most = Most { tries: 1000, pieces: u32::MAX };
/// Breaths to wait for before the first guess; twice as many before each later round.
const FIRST_WAIT: u32 = 2;
/// As near as rounding allows, relative to the gas in the machine.
const ROUNDING: f64 = 1e-15;
/// Near enough where rounding adds up on the way, likewise.
const EXACT: f64 = 1e-12;
/// What the numeric road's choice of steps may leave, likewise.
const STEPPING: f64 = 1e-7;
/// Guesses without a better one after which the best is as good as it gets.
const PATIENCE: u32 = 8;

/// Rounds of waiting, then guessing: a guess may lead nowhere (where full breaths
/// and very short cycles are near each other, the map has a jump), and waiting goes on.
fn settle(machine: &Machine, most: Most) -> Result<Periodic, SteadyError> {
    let mut search = Search { tried: 0, smallest: f64::INFINITY, left: most.pieces };
    let found = match search.settle(machine, most.tries) {
        Ok(found) => found,
        Err(Stopped::By(error)) => return Err(error.into()),
        Err(Stopped::UsedUp) => None,
    };
    let Search { tried, smallest: mismatch_ml, .. } = search;
    let Some(Try { start, mismatch, .. }) = found else {
        return Err(SteadyError::Changing { tried, mismatch_ml });
    };
    let (mut breath, mut next) = one_breath(machine, &start)?;
    while breath.inspiratory_time + breath.expiratory_time == Seconds::ZERO {
        (breath, next) = one_breath(machine, &next)?;
    }
    Ok(Periodic { start, breath, mismatch: Volume::ml(mismatch), tried })
}

struct Search {
    tried: u32,
    /// The smallest mismatch seen, mL.
    smallest: f64,
    /// Pieces that may still be worked out.
    left: u32,
}

impl Search {
    fn settle(&mut self, machine: &Machine, most_tries: u32) -> Result<Option<Try>, Stopped> {
        let mut waited = Try::from(machine, Moment::at_rest(machine), &mut self.left)?;
        let mut wait = FIRST_WAIT;
        self.tried = 1;
        self.smallest = waited.mismatch;
        let allowed = if machine.is_exact() { EXACT } else { STEPPING };
        while self.tried < most_tries {
            let mut history = History::default();
            for _ in 0..wait {
                history.next(&waited.start.stored, &waited.change);
                waited = waited.after(machine, &mut self.left)?;
            }
            self.tried += wait;
            wait *= 2;

            let (mut at, mut best, mut since_best) = (waited, waited, 0);
            while since_best < PATIENCE && best.mismatch > ROUNDING * best.size {
                self.tried += 1;
                at = match at.guess(machine, &mut history, &mut self.left) {
                    Ok(guess) if guess.mismatch <= 2.0 * best.mismatch => guess,
                    _ => break,
                };
                since_best = if at.mismatch < 0.5 * best.mismatch { 0 } else { since_best + 1 };
                if at.mismatch < best.mismatch {
                    best = at;
                }
            }
            if best.mismatch <= allowed * best.size {
                return Ok(Some(best));
            }
            self.smallest = self.smallest.min(best.mismatch);
        }
        Ok(None)
    }
}

/// One breath tried as the settled one.
#[derive(Clone, Copy)]
struct Try {
    start: Moment,
    /// Gas after the breath less gas before it, by place, mL.
    change: NodeVec,
    mismatch: f64,
    /// Gas in the machine, mL: what the mismatch is measured against.
    size: f64,
}

impl Try {
    fn from(machine: &Machine, start: Moment, left: &mut u32) -> Result<Self, Stopped> {
        let mut passed = Passed::from(machine, start, left)?;
        // Breaths that take no time are the chatter that ends in an error.
        while passed.lasts_s == 0.0 {
            passed = Passed::from(machine, passed.next, left)?;
        }
        let next = &passed.next;
        let change: NodeVec = std::array::from_fn(|i| next.stored[i] - start.stored[i]);
        let largest = |gas: &NodeVec| gas.iter().fold(0.0_f64, |most, ml| most.max(ml.abs()));
        let size = largest(&start.stored) + passed.inspired_ml.abs();
        Ok(Self { start, change, mismatch: largest(&change), size })
    }

    /// The next breath by waiting.
    fn after(&self, machine: &Machine, left: &mut u32) -> Result<Self, Stopped> {
        let before = &self.start.stored;
        self.with(machine, std::array::from_fn(|i| before[i] + self.change[i]), left)
    }

    fn guess(
        &self,
        machine: &Machine,
        history: &mut History,
        left: &mut u32,
    ) -> Result<Self, Stopped> {
        self.with(machine, history.next(&self.start.stored, &self.change), left)
    }

    fn with(&self, machine: &Machine, stored: NodeVec, left: &mut u32) -> Result<Self, Stopped> {
        Self::from(machine, Moment { stored, ..self.start }, left)
    }
}

/// The last tries: how their starts and their changes differed.
#[derive(Clone, Default)]
struct History {
    last: Option<(NodeVec, NodeVec)>,
    /// (difference of starts, difference of changes), newest last.
    steps: Vec<(NodeVec, NodeVec)>,
}

impl History {
    /// Where to start the next try.
    fn next(&mut self, start: &NodeVec, change: &NodeVec) -> NodeVec {
        if let Some((start_before, change_before)) = self.last.replace((*start, *change)) {
            if self.steps.len() == MAX_NODES {
                self.steps.remove(0);
            }
            self.steps.push((minus(start, &start_before), minus(change, &change_before)));
        }
        // The newest differences first: orthogonal directions of change, each
        // with the step that makes it.
        let mut axes: Vec<(NodeVec, NodeVec)> = Vec::new();
        let (mut step, mut left) = ([0.0; MAX_NODES], *change);
        for &(start_step, change_step) in self.steps.iter().rev() {
            let (mut by, mut along) = (start_step, change_step);
            // Twice, so that rounding leaves nothing along the earlier axes.
            for _ in 0..2 {
                for (axis_by, axis) in &axes {
                    let share = dot(&along, axis) / dot(axis, axis);
                    along = plus(&along, -share, axis);
                    by = plus(&by, -share, axis_by);
                }
            }
            if dot(&along, &along) <= 1e-16 * dot(&change_step, &change_step) {
                continue;
            }
            let share = dot(&left, &along) / dot(&along, &along);
            left = plus(&left, -share, &along);
            step = plus(&step, -share, &by);
            axes.push((by, along));
        }
        plus(&plus(start, 1.0, &step), 1.0, &left)
    }
}

fn minus(a: &NodeVec, b: &NodeVec) -> NodeVec {
    plus(a, -1.0, b)
}

fn plus(a: &NodeVec, factor: f64, b: &NodeVec) -> NodeVec {
    std::array::from_fn(|i| a[i] + factor * b[i])
}

fn dot(a: &NodeVec, b: &NodeVec) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Whether the muscle pressure never changes.
fn is_constant(effort: &Effort) -> bool {
    let Some(first) = effort.segments.first() else {
        return true;
    };
    matches!(first.course, Course::Hold(_))
        && effort.segments.iter().all(|segment| segment.course == first.course)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::Setup;

    #[test]
    fn too_few_tries_end_in_an_error_that_tells_how_far_it_got() {
        let mut setup = Setup::default();
        setup.ventilator.expiratory_time = Seconds::s(0.1);
        let machine = Machine::new(setup).unwrap();
        let error = settle(&machine, Most { tries: 1, ..PATIENT }).unwrap_err();
        let SteadyError::Changing { tried: 1, mismatch_ml } = error else {
            panic!("{error}");
        };
        assert!(mismatch_ml > 0.0 && mismatch_ml < 40.0, "{mismatch_ml}");
        assert!(settle(&machine, PATIENT).is_ok());
    }

    /// A breath of ten minutes on the numeric road has thousands of pieces.
    #[test]
    fn a_search_ends_when_its_pieces_are_used_up() {
        let mut setup = Setup::default();
        setup.ventilator.expiratory_time = Seconds::s(600.0);
        let machine = Machine::with_solver(setup, crate::road::Solver::Numeric).unwrap();
        let mut left = u32::MAX;
        assert!(Passed::from(&machine, Moment::at_rest(&machine), &mut left).is_ok());
        let pieces = u32::MAX - left;
        assert!(pieces > 2000, "{pieces}");
        let within = |pieces| settle(&machine, Most { tries: 60, pieces });
        assert!(matches!(within(pieces), Err(SteadyError::Changing { tried: 1, .. })));
        assert!(within(10 * pieces).is_ok());
    }
}
