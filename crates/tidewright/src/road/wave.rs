//! The sine wave of a patient's effort in a signal.

use crate::base::math::{cos, sin};

/// S·sin(ωt+θ) + K·cos(ωt+θ).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wave {
    sine: f64,
    cosine: f64,
    omega: f64,
    theta: f64,
    /// Its value at the start.
    start: f64,
}

impl Wave {
    pub fn new(sine: f64, cosine: f64, omega: f64, theta: f64) -> Self {
        let mut wave = Self { sine, cosine, omega, theta, start: 0.0 };
        wave.start = wave.at(0.0);
        wave
    }

    /// Its value at the start.
    pub fn start(&self) -> f64 {
        self.start
    }

    /// No value is larger.
    pub fn size(&self) -> f64 {
        self.sine.abs() + self.cosine.abs()
    }

    pub fn at(&self, t: f64) -> f64 {
        let angle = self.omega * t + self.theta;
        self.sine * sin(angle) + self.cosine * cos(angle)
    }

    pub fn slope(&self, t: f64) -> f64 {
        let angle = self.omega * t + self.theta;
        self.omega * (self.sine * cos(angle) - self.cosine * sin(angle))
    }

    /// The slope's slope.
    pub fn bend(&self, t: f64) -> f64 {
        -self.omega * self.omega * self.at(t)
    }

    /// Its bounds on [a, b], as those of the slope.
    pub fn bend_bounds(&self, a: f64, b: f64) -> (f64, f64) {
        let stray = (0.5 * (b - a) * self.omega).min(2.0) * self.omega * self.omega * self.size();
        let middle = self.bend(0.5 * (a + b));
        (middle - stray, middle + stray)
    }

    /// Bounds of the slope on [a, b]: its value in the middle, give or take the
    /// most it can change within half the length.
    pub fn slope_bounds(&self, a: f64, b: f64) -> (f64, f64) {
        let stray = (0.5 * (b - a) * self.omega).min(2.0) * self.omega * self.size();
        let middle = self.slope(0.5 * (a + b));
        (middle - stray, middle + stray)
    }
}
