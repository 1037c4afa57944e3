//! A signal along one piece: a start and a slope for each mode,
//! f(t) = f₀ + Σ rₖ·φ₁(λₖ, t), so f′(t) = Σ rₖ·e^(−λₖt).
//!
//! Every term is monotone, so the sums of the terms' extremes over an interval
//! bound f and f′ on it. That is all that is needed to *prove* where a level is
//! met first: an interval is dropped when its bound stays below the level,
//! answered when its slope keeps one sign, and halved otherwise. No sampling
//! step is involved and no crossing can hide between two looks.

use crate::math::{ln_1p, phi1};
use crate::modes::{Affine, ModeVec, Modes};

/// A signal along one piece.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Curve<'a> {
    n: usize,
    rates: &'a ModeVec,
    start: f64,
    slopes: ModeVec,
}

impl<'a> Curve<'a> {
    /// The signal `affine` from the modal state `z` whose modes move at `velocity`.
    pub fn new(modes: &'a Modes, affine: &Affine, z: &ModeVec, velocity: &ModeVec) -> Self {
        let mut slopes = [0.0; crate::modes::MAX_MODES];
        for k in 0..modes.n {
            slopes[k] = affine.weights[k] * velocity[k];
        }
        Self { n: modes.n, rates: &modes.rates, start: affine.at(modes.n, z), slopes }
    }

    /// Value at time `t`.
    pub fn at(&self, t: f64) -> f64 {
        let mut sum = self.start;
        for k in 0..self.n {
            sum += self.slopes[k] * phi1(self.rates[k], t);
        }
        sum
    }

    /// First time in [0, end] at which the signal is at or above `level`.
    pub fn first_at_or_above(&self, level: f64, end: f64) -> Option<f64> {
        if self.start >= level {
            return Some(0.0);
        }
        if self.slopes[..self.n].iter().all(|&slope| slope >= 0.0) {
            return self.root_where_rising(level, 0.0, end);
        }
        self.search(level, 0.0, end)
    }

    /// Smallest and largest value in [0, end].
    pub fn range(&self, end: f64) -> (f64, f64) {
        let (first, last) = (self.start, self.at(end));
        let slopes = &self.slopes[..self.n];
        if slopes.iter().all(|&s| s >= 0.0) || slopes.iter().all(|&s| s <= 0.0) {
            return (first.min(last), first.max(last));
        }
        let mut range = (first.min(last), first.max(last));
        self.widen(0.0, end, &mut range);
        range
    }

    /// The interval [a, b] holds `level` or does not: first crossing, proven.
    fn search(&self, level: f64, a: f64, b: f64) -> Option<f64> {
        let (low, high) = self.slope_bounds(a, b);
        if high <= 0.0 || self.upper_bound(a, b) < level {
            return None;
        }
        if low >= 0.0 {
            return self.root_where_rising(level, a, b);
        }
        let middle = 0.5 * (a + b);
        if middle <= a || middle >= b {
            return (self.at(b) >= level).then_some(b);
        }
        self.search(level, a, middle).or_else(|| self.search(level, middle, b))
    }

    /// Widens `range` by the turning points inside (a, b).
    fn widen(&self, a: f64, b: f64, range: &mut (f64, f64)) {
        let (low, high) = self.slope_bounds(a, b);
        let middle = 0.5 * (a + b);
        if low >= 0.0 || high <= 0.0 || middle <= a || middle >= b {
            return;
        }
        // Inside [a, b] the signal strays from its ends by at most slope × length;
        // when that is below rounding, there is nothing left to find.
        let stray = (b - a) * high.max(-low);
        if stray <= 1e-16 * (range.0.abs() + range.1.abs()) {
            return;
        }
        let value = self.at(middle);
        *range = (range.0.min(value), range.1.max(value));
        self.widen(a, middle, range);
        self.widen(middle, b, range);
    }

    fn slope_bounds(&self, a: f64, b: f64) -> (f64, f64) {
        let (mut low, mut high) = (0.0, 0.0);
        for k in 0..self.n {
            let early = self.slopes[k] * crate::math::exp(-self.rates[k] * a);
            let late = self.slopes[k] * crate::math::exp(-self.rates[k] * b);
            low += early.min(late);
            high += early.max(late);
        }
        (low, high)
    }

    fn upper_bound(&self, a: f64, b: f64) -> f64 {
        let mut bound = self.start;
        for k in 0..self.n {
            let at = if self.slopes[k] >= 0.0 { b } else { a };
            bound += self.slopes[k] * phi1(self.rates[k], at);
        }
        bound
    }

    /// The root in [a, b] of a signal that does not fall there, by Newton's
    /// method kept inside a shrinking bracket.
    fn root_where_rising(&self, level: f64, a: f64, b: f64) -> Option<f64> {
        if self.at(b) < level {
            return None;
        }
        let (mut low, mut high) = (a, b);
        let mut t = self.slow_mode_root(level).clamp(a, b);
        for _ in 0..200 {
            let (mut miss, mut slope) = (self.start - level, 0.0);
            for k in 0..self.n {
                let phi = phi1(self.rates[k], t);
                miss += self.slopes[k] * phi;
                slope += self.slopes[k] * (1.0 - self.rates[k] * phi);
            }
            if miss < 0.0 {
                low = t;
            } else {
                high = t;
            }
            let newton = t - miss / slope;
            let inside = newton > low && newton < high;
            let next = if inside { newton } else { 0.5 * (low + high) };
            // Below one part in 10¹⁶ of the time the step is rounding.
            if (next - t).abs() <= 1e-16 * t.abs() || next <= low || next >= high {
                return Some(if inside { newton } else { high });
            }
            t = next;
        }
        Some(high)
    }

    /// Where the level is met once all modes but the slowest have died: exact in
    /// the usual case, and a start for Newton's method in every other.
    fn slow_mode_root(&self, level: f64) -> f64 {
        if self.n == 0 {
            return 0.0;
        }
        let mut miss = level - self.start;
        for k in 1..self.n {
            miss -= self.slopes[k] / self.rates[k];
        }
        let x = miss / self.slopes[0];
        let y = self.rates[0] * x;
        if y.abs() < 1e-300 || !y.is_finite() {
            return if x.is_finite() { x } else { 0.0 };
        }
        let t = -ln_1p(-y) / self.rates[0];
        if t.is_finite() { t } else { 0.0 }
    }
}
