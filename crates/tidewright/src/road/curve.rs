//! A signal along one piece of the exact road:
//!
//! f(t) = f₀ + ℓ·t + Σ rₖ·φ₁(λₖ, t) + S·(sin(ωt+θ) − sin θ) + K·(cos(ωt+θ) − cos θ),
//!
//! a decaying term for each mode, a ramp and one sine wave for the patient's effort.
//!
//! Over an interval each term lies between bounds that are known exactly, and so
//! does its slope; the sums bound f and f′. That is all that is needed to *prove*
//! where a level is met first: an interval is dropped when its bound stays below
//! the level, answered when its slope keeps one sign, and halved otherwise. No
//! sampling step is involved and no crossing can hide between two looks.

use super::ruled::Ruled;
use super::wave::Wave;
use crate::base::math::{exp, ln, ln_1p, phi1};

/// A signal along one piece.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Curve<'a, const N: usize> {
    pub n: usize,
    /// λ, 1/s.
    pub rates: &'a [f64; N],
    /// f₀.
    pub start: f64,
    /// ℓ.
    pub ramp: f64,
    /// r.
    pub slopes: [f64; N],
    /// The wave, if there is one.
    pub wave: Option<Wave>,
}

/// What is known of a signal at an end of an interval: its value, and of each term the
/// slope.
#[derive(Clone, Copy)]
struct Look<const N: usize> {
    t: f64,
    value: f64,
    slopes: [f64; N],
}

impl<const N: usize> Curve<'_, N> {
    /// Value at time `t`.
    pub fn at(&self, t: f64) -> f64 {
        let mut sum = self.start + self.ramp * t;
        for k in 0..self.n.min(N) {
            sum += self.slopes[k] * phi1(self.rates[k], t);
        }
        match &self.wave {
            Some(wave) => sum + wave.at(t) - wave.start(),
            None => sum,
        }
    }

    /// First time in [0, end] at which the signal is at or above `level`.
    pub fn first_at_or_above(&self, level: f64, end: f64) -> Option<f64> {
        if self.start >= level {
            return Some(0.0);
        }
        if self.only_rises() {
            return self.root_where_rising(level, 0.0, end);
        }
        self.search(level, &self.look(0.0), &self.look(end), self.rounding(end))
    }

    /// Smallest and largest value in [0, end], given the value at the end.
    pub fn range(&self, end: f64, last: f64) -> (f64, f64) {
        let mut range = (self.start.min(last), self.start.max(last));
        if self.only_rises() || self.only_falls() {
            return range;
        }
        match self.turn_of_two(end) {
            Some(value) => include(&mut range, value),
            None => self.widen(&self.look(0.0), &self.look(end), self.rounding(end), &mut range),
        }
        range
    }

    /// The largest value in [0, end], given the value at the end, or `floor` where that
    /// is larger: what stays below it is not looked for.
    pub fn highest(&self, end: f64, last: f64, floor: f64) -> f64 {
        let highest = self.start.max(last).max(floor);
        if let Some(value) = self.lone_turn(end) {
            return highest.max(value);
        }
        let mut range = (f64::NEG_INFINITY, highest);
        self.widen(&self.look(0.0), &self.look(end), self.rounding(end), &mut range);
        range.1
    }

    /// Whether the signal keeps rising over all of [a, b].
    pub fn rises_within(&self, a: f64, b: f64) -> bool {
        self.slope_bounds(&self.look(a), &self.look(b)).0 >= 0.0
    }

    /// How its terms rule one another; nothing is known beside a wave.
    fn ruled(&self) -> Option<Ruled> {
        if self.wave.is_some() {
            return None;
        }
        let mut ruled = Ruled::default();
        // A ramp decays slower than any mode: not at all.
        ruled.add(self.ramp);
        for k in 0..self.n.min(N) {
            ruled.add(self.slopes[k]);
        }
        Some(ruled)
    }

    fn only_rises(&self) -> bool {
        self.wave.is_none() && self.ramp >= 0.0 && self.slopes[..self.n].iter().all(|&r| r >= 0.0)
    }

    fn only_falls(&self) -> bool {
        self.wave.is_none() && self.ramp <= 0.0 && self.slopes[..self.n].iter().all(|&r| r <= 0.0)
    }

    /// What the sum of terms is off by in [0, end]: no look is closer than that.
    fn rounding(&self, end: f64) -> f64 {
        let mut size = self.start.abs() + (self.ramp * end).abs();
        for k in 0..self.n.min(N) {
            size += (self.slopes[k] * phi1(self.rates[k], end)).abs();
        }
        1e-16 * (size + self.wave.as_ref().map_or(0.0, |wave| wave.size()))
    }

    fn look(&self, t: f64) -> Look<N> {
        let mut slopes = [0.0; N];
        for k in 0..self.n.min(N) {
            slopes[k] = self.slopes[k] * exp(-self.rates[k] * t);
        }
        Look { t, value: self.at(t), slopes }
    }

    fn search(&self, level: f64, from: &Look<N>, to: &Look<N>, rounding: f64) -> Option<f64> {
        let (low, high) = self.slope_bounds(from, to);
        let (a, b) = (from.t, to.t);
        if self.upper_bound(from, to, high) < level {
            return None;
        }
        if low >= 0.0 {
            return self.root_where_rising(level, a, b);
        }
        if high <= 0.0 {
            return (from.value >= level).then_some(a);
        }
        let middle = 0.5 * (a + b);
        if (b - a) * high <= rounding || middle <= a || middle >= b {
            return (to.value >= level).then_some(b);
        }
        let middle = self.look(middle);
        let earlier = self.search(level, from, &middle, rounding);
        earlier.or_else(|| self.search(level, &middle, to, rounding))
    }

    /// The value where a signal turns that turns once at most; the start where it does
    /// not within [0, end].
    fn lone_turn(&self, end: f64) -> Option<f64> {
        let ruled = self.ruled()?;
        match ruled.turns() {
            0 => Some(self.start),
            1 => self.turn_of_two(end).or_else(|| {
                let ends = [(0.0, ruled.pace()), (end, self.slope(end).0)];
                // From a flat start the bracket of Newton's method has no sign.
                (ends[0].1 != 0.0).then(|| self.only_turn(ends).map_or(self.start, |t| self.at(t)))
            }),
            _ => None,
        }
    }

    /// The same of two decaying terms: where r₀·e^(−λ₀t) = −r₁·e^(−λ₁t).
    fn turn_of_two(&self, end: f64) -> Option<f64> {
        let ([slow, fast, ..], [r0, r1, ..]) = (&self.rates[..], &self.slopes[..]) else {
            return None;
        };
        let apart = fast - slow;
        if self.n != 2 || self.wave.is_some() || self.ramp != 0.0 || apart <= 0.0 {
            return None;
        }
        let t = ln(-r1 / r0) / apart;
        if !(t > 0.0 && t < end) {
            return Some(self.start);
        }
        // r₁·e^(−λ₁t) is −r₀·e^(−λ₀t) there, and e^(−λ₀t) = 1 − λ₀·φ₁(λ₀, t).
        let phi = phi1(*slow, t);
        Some(self.start + r0 * phi + (r1 + r0 * (1.0 - slow * phi)) / fast)
    }

    /// Widens `range` by the turning points between two looks.
    fn widen(&self, from: &Look<N>, to: &Look<N>, rounding: f64, range: &mut (f64, f64)) {
        let (low, high) = self.slope_bounds(from, to);
        let (a, b) = (from.t, to.t);
        let middle = 0.5 * (a + b);
        if low >= 0.0 || high <= 0.0 || middle <= a || middle >= b {
            return;
        }
        // Within [a, b] the signal strays from its ends by less than slope × length.
        let stray = 0.5 * (b - a) * high.max(-low);
        let (top, bottom) = (from.value.max(to.value), from.value.min(to.value));
        let could_matter = top + stray > range.1 || bottom - stray < range.0;
        if !could_matter || stray <= rounding {
            return;
        }
        if self.bends_one_way(from, to) {
            let ends = [from, to].map(|look| (look.t, self.slope_at(look)));
            if let Some(turn) = self.only_turn(ends) {
                include(range, self.at(turn));
            }
            return;
        }
        let middle = self.look(middle);
        include(range, middle.value);
        self.widen(from, &middle, rounding, range);
        self.widen(&middle, to, rounding, range);
    }

    /// Whether the slope rises all along, or falls all along.
    fn bends_one_way(&self, from: &Look<N>, to: &Look<N>) -> bool {
        let (mut low, mut high) = (0.0, 0.0);
        for k in 0..self.n.min(N) {
            let ends = [from.slopes[k], to.slopes[k]].map(|slope| -self.rates[k] * slope);
            low += ends[0].min(ends[1]);
            high += ends[0].max(ends[1]);
        }
        if let Some(wave) = &self.wave {
            let (least, most) = wave.bend_bounds(from.t, to.t);
            low += least;
            high += most;
        }
        low >= 0.0 || high <= 0.0
    }

    /// The slope where one looks.
    fn slope_at(&self, look: &Look<N>) -> f64 {
        let waves = self.wave.as_ref().map_or(0.0, |wave| wave.slope(look.t));
        self.ramp + look.slopes[..self.n.min(N)].iter().sum::<f64>() + waves
    }

    /// The slope at a time, and the slope of that.
    fn slope(&self, t: f64) -> (f64, f64) {
        let (mut slope, mut bend) = (self.ramp, 0.0);
        for k in 0..self.n.min(N) {
            let term = self.slopes[k] * exp(-self.rates[k] * t);
            slope += term;
            bend -= self.rates[k] * term;
        }
        if let Some(wave) = &self.wave {
            slope += wave.slope(t);
            bend += wave.bend(t);
        }
        (slope, bend)
    }

    /// Where a slope that passes zero once at most between two times, given with what
    /// it is there, does so: by Newton's method kept inside a shrinking bracket.
    fn only_turn(&self, [(from, start), (to, end)]: [(f64, f64); 2]) -> Option<f64> {
        if start * end >= 0.0 {
            return None;
        }
        let (mut low, mut high) = (from, to);
        let mut t = low + (high - low) * (start / (start - end));
        for _ in 0..100 {
            let (slope, bend) = self.slope(t);
            if slope * start > 0.0 {
                low = t;
            } else {
                high = t;
            }
            let newton = t - slope / bend;
            let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
            // Beside a turn the signal is flat: a miss here counts by its square.
            if (next - t).abs() <= 1e-10 * (to - from) || next <= low || next >= high {
                return Some(next);
            }
            t = next;
        }
        Some(t)
    }

    fn slope_bounds(&self, from: &Look<N>, to: &Look<N>) -> (f64, f64) {
        let (mut low, mut high) = (self.ramp, self.ramp);
        for k in 0..self.n.min(N) {
            let (early, late) = (from.slopes[k], to.slopes[k]);
            low += early.min(late);
            high += early.max(late);
        }
        if let Some(wave) = &self.wave {
            let (least, most) = wave.slope_bounds(from.t, to.t);
            low += least;
            high += most;
        }
        (low, high)
    }

    /// A bound on f between two looks, from the terms and from the slope.
    fn upper_bound(&self, from: &Look<N>, to: &Look<N>, high: f64) -> f64 {
        let (a, b) = (from.t, to.t);
        let by_slope = from.value + high.max(0.0) * (b - a);
        if self.wave.is_some() {
            return by_slope;
        }
        let mut bound = self.start + self.ramp * if self.ramp >= 0.0 { b } else { a };
        for k in 0..self.n.min(N) {
            let at = if self.slopes[k] >= 0.0 { b } else { a };
            bound += self.slopes[k] * phi1(self.rates[k], at);
        }
        bound.min(by_slope)
    }

    /// The root in [a, b] of a signal that does not fall there, by Newton's
    /// method kept inside a shrinking bracket.
    fn root_where_rising(&self, level: f64, a: f64, b: f64) -> Option<f64> {
        let (mut low, mut high, mut exists) = (a, b, false);
        let mut t = self.slow_mode_root(level).clamp(a, b);
        let rounding = f64::EPSILON * self.start.abs().max(level.abs());
        for _ in 0..200 {
            let (miss, slope) = self.miss_and_slope(level, t);
            if miss < 0.0 {
                low = t;
            } else {
                (high, exists) = (t, true);
            }
            let newton = t - miss / slope;
            // A step of two units in the last place is rounding, and so is a miss
            // of one: on a pressure that hardly rises, steps would creep on it.
            if (newton - t).abs() <= 4.5e-16 * t || miss.abs() <= rounding {
                return Some(if (low..=high).contains(&newton) { newton } else { t });
            }
            // The usual start is the root itself, and the far end need not be asked.
            if !exists && self.at(b) < level {
                return None;
            }
            exists = true;
            let inside = newton > low && newton < high;
            let next = if inside { newton } else { 0.5 * (low + high) };
            if next <= low || next >= high {
                return Some(high);
            }
            t = next;
        }
        Some(high)
    }

    fn miss_and_slope(&self, level: f64, t: f64) -> (f64, f64) {
        let (mut miss, mut slope) = (self.start - level + self.ramp * t, self.ramp);
        for k in 0..self.n.min(N) {
            let phi = phi1(self.rates[k], t);
            miss += self.slopes[k] * phi;
            slope += self.slopes[k] * (1.0 - self.rates[k] * phi);
        }
        if let Some(wave) = &self.wave {
            miss += wave.at(t) - wave.start();
            slope += wave.slope(t);
        }
        (miss, slope)
    }

    /// Where the level is met once all modes but the slowest have died: exact in
    /// the usual case, and a start for Newton's method in every other.
    fn slow_mode_root(&self, level: f64) -> f64 {
        if self.n == 0 || self.slopes[0] == 0.0 {
            return 0.0;
        }
        let mut miss = level - self.start;
        for k in 1..self.n.min(N) {
            miss -= self.slopes[k] / self.rates[k];
        }
        let x = miss / self.slopes[0];
        let y = self.rates[0] * x;
        let t = if y.abs() < 1e-300 { x } else { -ln_1p(-y) / self.rates[0] };
        if t.is_finite() { t } else { 0.0 }
    }
}

/// Widens a range to hold a value.
fn include(range: &mut (f64, f64), value: f64) {
    *range = (range.0.min(value), range.1.max(value));
}

/// All zero: a curve to build on.
pub(crate) fn flat<const N: usize>(n: usize, rates: &[f64; N], start: f64) -> Curve<'_, N> {
    Curve { n, rates, start, ramp: 0.0, slopes: [0.0; N], wave: None }
}
