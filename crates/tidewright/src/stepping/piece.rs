//! A piece of a run: one phase, one setup, from an event (or a step of the
//! numeric road) to the next. It holds its solution, so any instant inside it can
//! be asked, not just samples.

use crate::machine::{Machine, Signal};
use crate::network::{MAX_NODES, NodeVec};
use crate::phase::{Cause, PhaseKind};
use crate::road::track::{LOOKS, Part, Reading, Stepped, Track};
use crate::road::{Solver, numeric, reference};

/// One phase under one setup, or a part of it, with its solution.
///
/// The machine that made a piece is needed to read it.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// When it began, s since the start of the run.
    pub start_s: f64,
    /// How long it lasted, s; it may be zero.
    pub duration_s: f64,
    /// The phase it belongs to.
    pub phase: PhaseKind,
    /// Time since that phase began, at the piece's start, s.
    pub phase_elapsed_s: f64,
    /// What ended the phase, or `None` where the phase goes on in the next piece.
    pub ended_by: Option<Cause>,
    pub(crate) track: Track,
}

/// A piece together with the machine that made it.
#[derive(Clone, Debug)]
pub struct Stretch<'a> {
    /// The machine that was running.
    pub machine: &'a Machine,
    /// What it did.
    pub piece: Piece,
}

impl Piece {
    /// When it ended, s since the start of the run.
    #[must_use]
    pub fn end_s(&self) -> f64 {
        self.start_s + self.duration_s
    }

    /// A signal `t_s` after the start of the piece; 0 gives the value after the
    /// event that began it, `duration_s` the value before the event that ends it.
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// let machine = Machine::new(Setup::default())?;
    /// let piece = step(&machine, &Moment::at_rest(&machine), 60.0)?.piece;
    /// let peak = piece.at(&machine, Signal::AirwayPressure, piece.duration_s);
    /// assert!((peak - 10.0).abs() < 1e-12);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn at(&self, machine: &Machine, signal: Signal, t_s: f64) -> f64 {
        let shape = machine.shape(self.phase);
        match (&self.track, &shape.exact) {
            (Track::Exact(track), Some(exact)) => exact.curve(track, signal).at(t_s),
            (Track::Stepped(track), _) if machine.solver() == Solver::Reference => {
                reference::at(&shape.plan, track, signal, t_s)
            }
            (Track::Stepped(track), _) => numeric::at(&shape.plan, track, signal, t_s),
            (Track::Exact(_), None) => f64::NAN,
        }
    }

    /// Gas at each place `t_s` after the start of the piece.
    pub(crate) fn stored_at(&self, machine: &Machine, t_s: f64) -> NodeVec {
        let shape = machine.shape(self.phase);
        match (&self.track, &shape.exact) {
            (Track::Exact(track), Some(exact)) if t_s == self.duration_s => exact.stored_end(track),
            (Track::Exact(track), Some(exact)) => exact.stored_at(track, t_s),
            (Track::Stepped(track), _) if t_s == self.duration_s => track.stored_end,
            (Track::Stepped(track), _) if machine.solver() == Solver::Reference => {
                reference::stored_at(&shape.plan, track, t_s)
            }
            (Track::Stepped(track), _) => numeric::stored_at(&shape.plan, track, t_s),
            (Track::Exact(_), None) => [f64::NAN; MAX_NODES],
        }
    }

    /// A signal just after the event that began the piece.
    #[must_use]
    pub fn first(&self, machine: &Machine, signal: Signal) -> f64 {
        self.reading(machine, signal).first
    }

    /// A signal just before the event that ended the piece.
    #[must_use]
    pub fn last(&self, machine: &Machine, signal: Signal) -> f64 {
        match (&self.track, &machine.shape(self.phase).exact) {
            (Track::Exact(track), Some(exact)) => exact.last(track, signal),
            _ => self.reading(machine, signal).last,
        }
    }

    /// The integral of a signal over the piece, in the signal's unit times s:
    /// from its closed form, or to the order of the numeric road.
    #[must_use]
    pub fn integral(&self, machine: &Machine, signal: Signal) -> f64 {
        match (&self.track, &machine.shape(self.phase).exact) {
            (Track::Exact(track), Some(exact)) => exact.integral(track, signal, self.duration_s),
            _ => self.reading(machine, signal).integral,
        }
    }

    /// A signal at both ends of the piece and over it.
    #[inline]
    pub(crate) fn reading(&self, machine: &Machine, signal: Signal) -> Reading {
        match (&self.track, &machine.shape(self.phase).exact) {
            (Track::Exact(track), Some(exact)) => exact.reading(track, signal, self.duration_s),
            (Track::Stepped(track), _) => {
                let plan = &machine.shape(self.phase).plan;
                let part = track.of(plan, signal, self.duration_s);
                let (turns, peaks) = part.turns();
                let Part { first, last, integral, .. } = part;
                Reading { first, last, integral, turns, peaks }
            }
            (Track::Exact(_), None) => {
                let nan = f64::NAN;
                Reading { first: nan, last: nan, integral: nan, turns: false, peaks: false }
            }
        }
    }

    /// The largest value of a signal over the piece, given its reading, or `floor`
    /// where that is larger.
    #[inline]
    pub(crate) fn highest(
        &self,
        machine: &Machine,
        signal: Signal,
        reading: &Reading,
        floor: f64,
    ) -> f64 {
        let ends = reading.first.max(reading.last).max(floor);
        match (&self.track, &machine.shape(self.phase).exact) {
            _ if !reading.peaks => ends,
            (Track::Exact(track), Some(exact)) => {
                exact.curve(track, signal).highest(self.duration_s, reading.last, floor)
            }
            (Track::Stepped(track), _) => {
                let part = track.of(&machine.shape(self.phase).plan, signal, self.duration_s);
                if part.most(self.duration_s) <= floor {
                    return floor;
                }
                self.range_of_step(machine, track, signal, &part).1.max(floor)
            }
            (Track::Exact(_), None) => f64::NAN,
        }
    }

    /// The largest value of a signal over the piece: the second of [`Piece::range`],
    /// without the search for the first.
    #[must_use]
    pub fn maximum(&self, machine: &Machine, signal: Signal) -> f64 {
        self.maximum_or(machine, signal, f64::NEG_INFINITY)
    }

    /// The largest value of a signal over the piece, or `floor` where that is larger:
    /// quicker for who only keeps the largest of many pieces.
    #[must_use]
    pub fn maximum_or(&self, machine: &Machine, signal: Signal, floor: f64) -> f64 {
        self.highest(machine, signal, &self.reading(machine, signal), floor)
    }

    /// The smallest and the largest value of a signal over the piece.
    #[must_use]
    pub fn range(&self, machine: &Machine, signal: Signal) -> (f64, f64) {
        match (&self.track, &machine.shape(self.phase).exact) {
            (Track::Exact(track), Some(exact)) => {
                let reading = exact.reading(track, signal, self.duration_s);
                exact.range(track, signal, self.duration_s, &reading)
            }
            (Track::Stepped(track), _) => {
                let part = track.of(&machine.shape(self.phase).plan, signal, self.duration_s);
                self.range_of_step(machine, track, signal, &part)
            }
            (Track::Exact(_), None) => (f64::NAN, f64::NAN),
        }
    }

    /// A step of the numeric road is short beside what happens in it: between two
    /// of its looks a signal turns once at most, and then its pace changes sign.
    fn range_of_step(
        &self,
        machine: &Machine,
        track: &Stepped,
        signal: Signal,
        part: &Part,
    ) -> (f64, f64) {
        let (plan, h) = (&machine.shape(self.phase).plan, self.duration_s);
        let mut range = (part.first.min(part.last), part.first.max(part.last));
        if !part.turns().0 {
            return range;
        }
        let mut widen = |value: &dyn Fn(f64) -> f64| {
            for i in (0..LOOKS.len() - 1).filter(|&i| part.pace[i] * part.pace[i + 1] < 0.0) {
                let sign = part.pace[i].signum();
                // A look within a step is less exact than a step that ends there:
                // close to it, the turn may lie on its other side.
                let (mut a, mut b) = (i, i + 1);
                loop {
                    let ends = [LOOKS[a] * h, LOOKS[b] * h];
                    let (at, turn) = turning_point(value, ends, [part.pace[a], part.pace[b]], sign);
                    range = (range.0.min(turn), range.1.max(turn));
                    match () {
                        () if at == ends[0] && a > 0 => a -= 1,
                        () if at == ends[1] && b + 1 < LOOKS.len() => b += 1,
                        () => break,
                    }
                }
            }
        };
        if machine.solver() == Solver::Reference {
            widen(&|t| reference::at(plan, track, signal, t));
        } else {
            numeric::along(plan, track, signal, &mut widen);
        }
        range
    }
}

/// Where in [a, b] a function that turns once at most is highest (for `sign` 1) or
/// lowest (−1), and its value there: first by the cubic that has its values and
/// slopes at both ends, then by parabolas through the best place and its
/// neighbours.
fn turning_point(
    value: &dyn Fn(f64) -> f64,
    [a, b]: [f64; 2],
    slopes: [f64; 2],
    sign: f64,
) -> (f64, f64) {
    let at = |t: f64| (t, sign * value(t));
    let (mut left, mut right) = (at(a), at(b));
    let mut best =
        at(a + (b - a) * turn_of_cubic([left.1, right.1], slopes.map(|s| sign * s * (b - a))));
    for _ in 0..12 {
        if best.1 < left.1.max(right.1) {
            // It turns between here and the higher end.
            if right.1 > left.1 {
                left = best;
            } else {
                right = best;
            }
            best = at(0.5 * (left.0 + right.0));
            continue;
        }
        let (to_left, to_right) = (best.0 - left.0, best.0 - right.0);
        let (down_left, down_right) = (best.1 - left.1, best.1 - right.1);
        let bend = to_left * down_right - to_right * down_left;
        let shift = 0.5 * (to_left * to_left * down_right - to_right * to_right * down_left) / bend;
        let t = best.0 - shift;
        let useful = t > left.0 && t < right.0 && (t - best.0).abs() > 1e-6 * (b - a);
        if !useful {
            break;
        }
        let next = at(t);
        match (next.1 > best.1, next.0 > best.0) {
            (true, true) => (left, best) = (best, next),
            (true, false) => (right, best) = (best, next),
            (false, true) => right = next,
            (false, false) => left = next,
        }
    }
    for end in [left, right] {
        if end.1 > best.1 {
            best = end;
        }
    }
    (best.0, sign * best.1)
}

/// Where on [0, 1] the cubic with these values and slopes at both ends turns down;
/// the middle where it does not.
fn turn_of_cubic(ends: [f64; 2], slopes: [f64; 2]) -> f64 {
    // Its slope is a + b·u + c·u².
    let rise = 3.0 * (ends[1] - ends[0]);
    let (a, b) = (slopes[0], 2.0 * (rise - 2.0 * slopes[0] - slopes[1]));
    let c = 3.0 * (slopes[0] + slopes[1]) - 2.0 * rise;
    let u = 2.0 * a / (-b + (b * b - 4.0 * a * c).max(0.0).sqrt());
    if u > 0.0 && u < 1.0 { u } else { 0.5 }
}
