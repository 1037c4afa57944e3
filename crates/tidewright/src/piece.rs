//! A piece of a run: one phase, one setup, from an event (or a step of the
//! numeric road) to the next. It holds its solution, so any instant inside it can
//! be asked, not just samples.

use crate::machine::{Machine, Signal};
use crate::network::{MAX_NODES, NodeVec};
use crate::phase::{Cause, PhaseKind};
use crate::road::{Reading, Solver, Track, reference, rosenbrock};
use crate::step::Moment;

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
    track: Track,
}

impl Piece {
    #[inline]
    pub(crate) fn new(
        moment: &Moment,
        duration_s: f64,
        ended_by: Option<Cause>,
        track: Track,
    ) -> Self {
        Self {
            start_s: moment.at_s,
            duration_s,
            phase: moment.phase,
            phase_elapsed_s: moment.phase_elapsed_s,
            ended_by,
            track,
        }
    }

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
            (Track::Stepped(track), _) => track.at(&shape.plan, signal, t_s),
            (Track::Exact(_), None) => f64::NAN,
        }
    }

    /// Gas at each node of the network `t_s` after the start of the piece.
    pub(crate) fn stored_at(&self, machine: &Machine, t_s: f64) -> NodeVec {
        let shape = machine.shape(self.phase);
        match (&self.track, &shape.exact) {
            (Track::Exact(track), Some(exact)) => exact.stored_at(track, t_s),
            (Track::Stepped(track), _) if t_s == self.duration_s => track.stored_end,
            (Track::Stepped(track), _) if machine.solver() == Solver::Reference => {
                reference::stored_at(&shape.plan, track, t_s)
            }
            (Track::Stepped(track), _) => track.stored_at(&shape.plan, t_s),
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
                let i = signal as usize;
                Reading {
                    first: track.first[i],
                    last: track.last[i],
                    integral: track.integral[i],
                    turns: track.pace[0][i] * track.pace[1][i] < 0.0,
                }
            }
            (Track::Exact(_), None) => {
                Reading { first: f64::NAN, last: f64::NAN, integral: f64::NAN, turns: false }
            }
        }
    }

    /// The largest value of a signal over the piece, given its reading.
    #[inline]
    pub(crate) fn highest(&self, machine: &Machine, signal: Signal, reading: &Reading) -> f64 {
        match (&self.track, &machine.shape(self.phase).exact) {
            _ if !reading.turns => reading.first.max(reading.last),
            (Track::Exact(track), Some(exact)) => {
                exact.range(track, signal, self.duration_s, reading).1
            }
            _ => self.range(machine, signal).1,
        }
    }

    /// The smallest and the largest value of a signal over the piece.
    #[must_use]
    pub fn range(&self, machine: &Machine, signal: Signal) -> (f64, f64) {
        match (&self.track, &machine.shape(self.phase).exact) {
            (Track::Exact(track), Some(exact)) => {
                let reading = exact.reading(track, signal, self.duration_s);
                exact.range(track, signal, self.duration_s, &reading)
            }
            (Track::Stepped(track), _) => self.range_of_step(machine, track, signal),
            (Track::Exact(_), None) => (f64::NAN, f64::NAN),
        }
    }

    /// A step of the numeric road is short beside what happens in it: where the
    /// signal turns, it turns once, and golden sections find the place.
    fn range_of_step(
        &self,
        machine: &Machine,
        track: &rosenbrock::Track,
        signal: Signal,
    ) -> (f64, f64) {
        let i = signal as usize;
        let (first, last) = (track.first[i], track.last[i]);
        let (low, high) = (first.min(last), first.max(last));
        let rising = match (track.pace[0][i], track.pace[1][i]) {
            (start, end) if start > 0.0 && end < 0.0 => 1.0,
            (start, end) if start < 0.0 && end > 0.0 => -1.0,
            _ => return (low, high),
        };
        const GOLDEN: f64 = 0.618_033_988_749_894_9;
        let value = |t: f64| rising * self.at(machine, signal, t);
        let (mut a, mut b) = (0.0, self.duration_s);
        let (mut c, mut d) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
        let (mut at_c, mut at_d) = (value(c), value(d));
        for _ in 0..40 {
            if at_c > at_d {
                (b, d, at_d) = (d, c, at_c);
                c = b - GOLDEN * (b - a);
                at_c = value(c);
            } else {
                (a, c, at_c) = (c, d, at_d);
                d = a + GOLDEN * (b - a);
                at_d = value(d);
            }
        }
        let turn = rising * at_c.max(at_d);
        (low.min(turn), high.max(turn))
    }
}
