//! Modes under a constant input and the pull of the patient's muscles, in closed
//! form: what the exact road is made of, and the linear part of the numeric one.
//!
//! With y = z + w·p_wall, the modes obey y′ = −λ·y + s + w·p_wall′(t), where
//! p_wall = (what presses on the chest) − (muscle pressure). For a muscle
//! pressure a + b·t + A·sin(ωt+θ) the solution is
//!
//! y(t) = y₀ + (s − w·b − λ·(y₀ − yₚ(0)))·φ₁(λ, t) + yₚ(t) − yₚ(0),
//! yₚ(t) = −w·A·ω·(λ·cos(ωt+θ) + ω·sin(ωt+θ))/(λ² + ω²).

use super::wave::Wave;
use crate::base::math::{cos, sin};
use crate::road::curve::{Curve, flat};
use crate::road::modes::Modes;
use crate::road::readout::Affine;
use crate::setup::Drive;

/// Modes and what drives them.
#[derive(Clone, Copy)]
pub(crate) struct Driven<'a, const N: usize> {
    pub modes: &'a Modes<N>,
    /// s.
    pub inputs: &'a [f64; N],
    /// w.
    pub wall: &'a [f64; N],
    pub drive: &'a Drive,
}

/// Sine and cosine of the wave at a time.
#[derive(Clone, Copy)]
struct Turn {
    sine: f64,
    cosine: f64,
}

impl<'a, const N: usize> Driven<'a, N> {
    /// The weight of φ₁ in each mode's solution.
    #[inline]
    pub fn velocity(&self, y: &[f64; N], velocity: &mut [f64; N]) {
        *velocity = [0.0; N];
        if self.drive.amplitude == 0.0 {
            for k in 0..self.modes.span() {
                velocity[k] = self.input(k) - self.modes.rates[k] * y[k];
            }
            return;
        }
        let start = self.turn(0.0);
        for k in 0..self.modes.span() {
            velocity[k] = self.input(k) - self.modes.rates[k] * (y[k] - self.driven(k, start));
        }
    }

    /// y(t), given φ₁(λ, t) of each mode.
    #[inline]
    pub fn end(
        &self,
        y: &[f64; N],
        velocity: &[f64; N],
        t: f64,
        first: &[f64; N],
        end: &mut [f64; N],
    ) {
        *end = [0.0; N];
        for k in 0..self.modes.span() {
            end[k] = y[k] + velocity[k] * first[k];
        }
        if self.drive.amplitude != 0.0 {
            let (now, start) = (self.turn(t), self.turn(0.0));
            for k in 0..self.modes.span() {
                end[k] += self.driven(k, now) - self.driven(k, start);
            }
        }
    }

    /// ∫y from 0 to t, given φ₁(λ, t) and φ₂(λ, t) of each mode.
    #[inline]
    pub fn integral(
        &self,
        y: &[f64; N],
        t: f64,
        first: &[f64; N],
        second: &[f64; N],
        integral: &mut [f64; N],
    ) {
        *integral = [0.0; N];
        for k in 0..self.modes.span() {
            // The same as y·t + velocity·φ₂, without its cancellation in fast modes.
            integral[k] = y[k] * first[k] + self.input(k) * second[k];
        }
        if self.drive.amplitude != 0.0 {
            let (start, now) = (self.turn(0.0), self.turn(t));
            let (turned, risen) = (start.cosine - now.cosine, now.sine - start.sine);
            let omega = self.drive.omega;
            for k in 0..self.modes.span() {
                let (in_phase, across) = self.wave(k);
                integral[k] += (in_phase * turned + across * risen) / omega;
                integral[k] -= self.driven(k, start) * first[k];
            }
        }
    }

    /// The affine signal from `start` on.
    pub fn curve(&self, affine: &Affine<N>, start: f64, velocity: &[f64; N]) -> Curve<'a, N> {
        let mut curve = flat(self.modes.n(), &self.modes.rates, start);
        curve.ramp = affine.muscle * self.drive.slope;
        for k in 0..self.modes.span() {
            curve.slopes[k] = affine.weights[k] * velocity[k];
        }
        if self.drive.amplitude != 0.0 {
            let (mut sine, mut cosine) = (affine.muscle * self.drive.amplitude, 0.0);
            for k in 0..self.modes.span() {
                let (in_phase, across) = self.wave(k);
                sine += affine.weights[k] * in_phase;
                cosine += affine.weights[k] * across;
            }
            let (omega, theta) = (self.drive.omega, self.drive.theta);
            curve.wave = Some(Wave::new(sine, cosine, omega, theta));
        }
        curve
    }

    /// s − w·b.
    #[inline]
    fn input(&self, k: usize) -> f64 {
        self.inputs[k] - self.wall[k] * self.drive.slope
    }

    /// Where the wave stands at a time: for all modes at once.
    #[inline]
    fn turn(&self, t: f64) -> Turn {
        let angle = self.drive.omega * t + self.drive.theta;
        Turn { sine: sin(angle), cosine: cos(angle) }
    }

    /// yₚ of mode k there.
    #[inline]
    fn driven(&self, k: usize, turn: Turn) -> f64 {
        let (in_phase, across) = self.wave(k);
        in_phase * turn.sine + across * turn.cosine
    }

    /// yₚ of mode k: its weights on sin(ωt+θ) and cos(ωt+θ).
    fn wave(&self, k: usize) -> (f64, f64) {
        let (rate, omega) = (self.modes.rates[k], self.drive.omega);
        let size = -self.wall[k] * self.drive.amplitude * omega / (rate * rate + omega * omega);
        (size * omega, size * rate)
    }
}
