//! A piece of a run: one phase, one setup, from an event to the next. It holds
//! its exact solution, so any instant inside it can be asked, not just samples.

use crate::curve::Curve;
use crate::machine::{Machine, Signal};
use crate::math::{phi1, phi2_from};
use crate::modes::{MAX_MODES, ModeVec, Modes};
use crate::phase::{Cause, PhaseKind};
use crate::step::Moment;

/// One phase under one setup, from an event to the next, with its exact solution.
///
/// The machine that made a piece is needed to read it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// When it began, s since the start of the run.
    pub start_s: f64,
    /// How long it lasted, s; it may be zero.
    pub duration_s: f64,
    /// The phase it belongs to.
    pub phase: PhaseKind,
    /// Time since that phase began, at the piece's start, s.
    pub phase_elapsed_s: f64,
    /// What ended the phase, or `None` where the piece ended at its horizon (a
    /// change of the setup or the end of the run).
    pub ended_by: Option<Cause>,
    z: ModeVec,
    velocity: ModeVec,
    pub(crate) z_end: ModeVec,
    z_integral: ModeVec,
}

impl Piece {
    pub(crate) fn new(
        moment: &Moment,
        duration_s: f64,
        ended_by: Option<Cause>,
        modes: &Modes,
        z: ModeVec,
        velocity: ModeVec,
    ) -> Self {
        let (mut z_end, mut z_integral) = ([0.0; MAX_MODES], [0.0; MAX_MODES]);
        for k in 0..modes.n {
            let first = phi1(modes.rates[k], duration_s);
            let second = phi2_from(modes.rates[k], duration_s, first);
            z_end[k] = z[k] + velocity[k] * first;
            // The same as z·t + velocity·φ₂, without its cancellation in fast modes.
            z_integral[k] = z[k] * first + modes.inputs[k] * second;
        }
        Self {
            start_s: moment.at_s,
            duration_s,
            phase: moment.phase,
            phase_elapsed_s: moment.phase_elapsed_s,
            ended_by,
            z,
            velocity,
            z_end,
            z_integral,
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
        self.curve(machine, signal).at(t_s)
    }

    /// A signal just after the event that began the piece.
    #[must_use]
    pub fn first(&self, machine: &Machine, signal: Signal) -> f64 {
        let shape = machine.shape(self.phase);
        shape.signal(signal).at(shape.modes.n, &self.z)
    }

    /// A signal just before the event that ended the piece.
    #[must_use]
    pub fn last(&self, machine: &Machine, signal: Signal) -> f64 {
        let shape = machine.shape(self.phase);
        shape.signal(signal).at(shape.modes.n, &self.z_end)
    }

    /// The integral of a signal over the piece, in the signal's unit times s,
    /// from its closed form.
    #[must_use]
    pub fn integral(&self, machine: &Machine, signal: Signal) -> f64 {
        let shape = machine.shape(self.phase);
        let affine = shape.signal(signal);
        affine.offset * self.duration_s + affine.dot(shape.modes.n, &self.z_integral)
    }

    /// The smallest and the largest value of a signal over the piece.
    #[must_use]
    pub fn range(&self, machine: &Machine, signal: Signal) -> (f64, f64) {
        self.curve(machine, signal).range(self.duration_s)
    }

    /// The first time in the piece, s from its start, at which a signal is at or
    /// above a level.
    #[must_use]
    pub fn first_at_or_above(&self, machine: &Machine, signal: Signal, level: f64) -> Option<f64> {
        self.curve(machine, signal).first_at_or_above(level, self.duration_s)
    }

    fn curve<'a>(&self, machine: &'a Machine, signal: Signal) -> Curve<'a> {
        let shape = machine.shape(self.phase);
        Curve::new(&shape.modes, shape.signal(signal), &self.z, &self.velocity)
    }
}
