//! A piece of a run: one phase, one setup, from an event (or a step of the
//! numeric road) to the next. It holds its solution, so any instant inside it can
//! be asked, not just samples.

use thiserror::Error;

use crate::road::shape::{Shape, Track};
use crate::road::track::{LOOKS, Part, Reading, Stepped};
use crate::stepping::machine::{Machine, Signal};
use crate::stepping::phase::{Cause, PhaseKind};

/// One phase under one setup, or a part of it, with its solution and the machine that
/// made it: it cannot be read with another.
#[derive(Clone, Debug)]
pub struct Piece<'m> {
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
    pub(crate) machine: &'m Machine,
    pub(crate) track: Track<'m>,
}

/// A piece together with the machine that made it.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Stretch<'a> {
    /// The machine that was running.
    pub machine: &'a Machine,
    /// What it did.
    pub piece: Piece<'a>,
}

/// A time that a piece does not cover.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error(
    "{t_s} s after its start lies outside a piece that lasts {duration_s} s: ask the piece that \
     covers that time"
)]
pub struct Outside {
    /// The time asked for, s after the start of the piece.
    pub t_s: f64,
    /// How long the piece lasted, s.
    pub duration_s: f64,
}

/// How far beyond its ends a piece still answers, s, with the value at the end: clocks
/// that add durations up are off by less.
const CLOCK_ROUNDING_S: f64 = 1e-9;

impl<'m> From<Piece<'m>> for Stretch<'m> {
    #[inline]
    fn from(piece: Piece<'m>) -> Self {
        Self { machine: piece.machine, piece }
    }
}

/// Equal where all that they tell is; the machines may be two that were made alike.
impl PartialEq for Piece<'_> {
    fn eq(&self, other: &Self) -> bool {
        let times = |piece: &Self| [piece.start_s, piece.duration_s, piece.phase_elapsed_s];
        times(self) == times(other)
            && (self.phase, self.ended_by) == (other.phase, other.ended_by)
            && self.track == other.track
    }
}

impl<'m> Piece<'m> {
    /// When it ended, s since the start of the run.
    #[must_use]
    pub fn end_s(&self) -> f64 {
        self.start_s + self.duration_s
    }

    /// The machine that made it.
    #[must_use]
    pub fn machine(&self) -> &'m Machine {
        self.machine
    }

    /// A signal `t_s` after the start of the piece; 0 gives the value after the
    /// event that began it, `duration_s` the value before the event that ends it.
    ///
    /// # Errors
    /// [`Outside`]: a time that the piece does not cover, or that is no number. Up to
    /// 1e-9 s beyond an end, which is what clocks are off by, count as the end.
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// let machine = Machine::new(Setup::default())?;
    /// let piece = step(&machine, &Moment::at_rest(&machine), 60.0)?.piece;
    /// let peak = piece.at(Signal::AirwayPressure, piece.duration_s)?;
    /// assert!((peak - 8.0).abs() < 1e-12);
    /// assert!(piece.at(Signal::AirwayPressure, piece.duration_s + 1.0).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn at(&self, signal: Signal, t_s: f64) -> Result<f64, Outside> {
        if (-CLOCK_ROUNDING_S..=self.duration_s + CLOCK_ROUNDING_S).contains(&t_s) {
            return Ok(self.nearest(signal, t_s));
        }
        Err(Outside { t_s, duration_s: self.duration_s })
    }

    /// As [`Piece::at`], for who samples: a time outside the piece counts as the end
    /// that is nearer, and no number as the start.
    #[must_use]
    pub fn nearest(&self, signal: Signal, t_s: f64) -> f64 {
        let t_s = if t_s > 0.0 { t_s.min(self.duration_s) } else { 0.0 };
        match &self.track {
            Track::Exact(track, exact) => exact.curve(track, signal).at(t_s),
            Track::Stepped(track, shape) => shape.at(track, signal, t_s),
        }
    }

    /// A signal just after the event that began the piece.
    #[must_use]
    pub fn first(&self, signal: Signal) -> f64 {
        self.reading(signal).first
    }

    /// A signal just before the event that ended the piece.
    #[must_use]
    pub fn last(&self, signal: Signal) -> f64 {
        match &self.track {
            Track::Exact(track, exact) => exact.last(track, signal),
            Track::Stepped(track, shape) => track.last(&shape.plan, signal, self.duration_s),
        }
    }

    /// The integral of a signal over the piece, in the signal's unit times s:
    /// from its closed form, or to the order of the numeric road.
    #[must_use]
    pub fn integral(&self, signal: Signal) -> f64 {
        match &self.track {
            Track::Exact(track, exact) => exact.integral(track, signal, self.duration_s),
            Track::Stepped(track, shape) => track.integral(&shape.plan, signal, self.duration_s),
        }
    }

    /// A signal at both ends of the piece and over it.
    #[inline]
    pub(crate) fn reading(&self, signal: Signal) -> Reading {
        match &self.track {
            Track::Exact(track, exact) => exact.reading(track, signal, self.duration_s),
            Track::Stepped(track, shape) => {
                let part = track.of(&shape.plan, signal, self.duration_s);
                let (turns, peaks) = part.turns();
                let Part { first, last, integral, .. } = part;
                Reading { first, last, integral, turns, peaks }
            }
        }
    }

    /// The largest value of a signal over the piece, given its reading, or `floor`
    /// where that is larger.
    #[inline]
    pub(crate) fn highest(&self, signal: Signal, reading: &Reading, floor: f64) -> f64 {
        if !reading.peaks {
            return reading.first.max(reading.last).max(floor);
        }
        match &self.track {
            Track::Exact(track, exact) => {
                exact.curve(track, signal).highest(self.duration_s, reading.last, floor)
            }
            Track::Stepped(track, shape) => {
                let part = track.of(&shape.plan, signal, self.duration_s);
                if part.most(self.duration_s) <= floor {
                    return floor;
                }
                self.range_of_step(shape, track, signal, &part, true).1.max(floor)
            }
        }
    }

    /// The largest value of a signal over the piece: the second of [`Piece::range`],
    /// without the search for the first.
    #[must_use]
    pub fn maximum(&self, signal: Signal) -> f64 {
        self.maximum_or(signal, f64::NEG_INFINITY)
    }

    /// The largest value of a signal over the piece, or `floor` where that is larger:
    /// quicker for who only keeps the largest of many pieces.
    #[must_use]
    pub fn maximum_or(&self, signal: Signal, floor: f64) -> f64 {
        self.highest(signal, &self.reading(signal), floor)
    }

    /// The smallest and the largest value of a signal over the piece.
    #[must_use]
    pub fn range(&self, signal: Signal) -> (f64, f64) {
        match &self.track {
            Track::Exact(track, exact) => {
                let reading = exact.reading(track, signal, self.duration_s);
                exact.range(track, signal, self.duration_s, &reading)
            }
            Track::Stepped(track, shape) => {
                let part = track.of(&shape.plan, signal, self.duration_s);
                self.range_of_step(shape, track, signal, &part, false)
            }
        }
    }

    /// A step of the numeric road is short beside what happens in it: between two
    /// of its looks a signal turns once at most, and then its pace changes sign.
    fn range_of_step(
        &self,
        shape: &Shape,
        track: &Stepped,
        signal: Signal,
        part: &Part,
        only_peaks: bool,
    ) -> (f64, f64) {
        let h = self.duration_s;
        let mut range = (part.first.min(part.last), part.first.max(part.last));
        if !part.turns().0 {
            return range;
        }
        shape.along(track, signal, &mut |value| {
            for i in (0..LOOKS.len() - 1).filter(|&i| part.pace[i] * part.pace[i + 1] < 0.0) {
                let sign = part.pace[i].signum();
                if only_peaks && sign < 0.0 {
                    continue;
                }
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
        });
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
