//! The exact road: every linear phase in closed form, effort included.
//!
//! With y = z + w·p_wall, the modes obey y′ = −λ·y + s + w·p_wall′(t), where
//! p_wall = (what presses on the chest) − (muscle pressure). For a muscle
//! pressure a + b·t + A·sin(ωt+θ) the solution is
//!
//! y(t) = y₀ + (s − w·b − λ·(y₀ − yₚ(0)))·φ₁(λ, t) + yₚ(t) − yₚ(0),
//! yₚ(t) = −w·A·ω·(λ·cos(ωt+θ) + ω·sin(ωt+θ))/(λ² + ω²).

use super::Advance;
use crate::curve::{Curve, Wave, flat};
use crate::math::{cos, phi1, phi2_from, sin};
use crate::modes::Modes;
use crate::network::{MAX_NODES, NodeVec, NowhereToGo};
use crate::plan::Plan;
use crate::readout::{Affine, Readout, inputs};
use crate::setup::Drive;
use crate::signal::Signal;

/// A linear network made ready.
#[derive(Clone, Debug)]
pub(crate) struct Exact {
    modes: Modes,
    inputs: NodeVec,
    /// w.
    wall: NodeVec,
    pressed_by: f64,
    signals: [Affine; Signal::ALL.len()],
}

/// The solution over one piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Track {
    y: NodeVec,
    velocity: NodeVec,
    y_end: NodeVec,
    y_integral: NodeVec,
    drive: Drive,
    muscle_end: f64,
}

impl Exact {
    /// `None` if the network is not linear.
    pub fn new(plan: &Plan) -> Result<Option<Self>, NowhereToGo> {
        let network = &plan.network;
        let Some(conductances) = network.linear_conductances() else {
            return Ok(None);
        };
        let (mut elastances, mut moved) = ([0.0; MAX_NODES], [0.0; MAX_NODES]);
        for (i, node) in network.nodes.iter().enumerate() {
            let Some(store) = &node.store else { continue };
            let compliance = store.law.linear().unwrap_or_default();
            elastances[i] = 1.0 / compliance;
            if store.moved {
                moved[i] += compliance;
                if let Some(parent) = store.parent {
                    moved[parent] -= compliance;
                }
            }
        }
        let reduced = network.reduce(&conductances)?;
        let modes = Modes::of(network, &reduced, &elastances);
        let readout = Readout::new(network, &reduced, &modes, &conductances, &elastances);
        let signals = Signal::ALL.map(|signal| readout.of(plan.probe_of(signal)));
        Ok(Some(Self {
            inputs: inputs(network, &reduced, &modes),
            wall: modes.coordinates(&moved),
            pressed_by: network.pressed_by,
            signals,
            modes,
        }))
    }

    /// Time constants, slowest first, s.
    pub fn time_constants_s(&self) -> Vec<f64> {
        self.modes.rates[..self.modes.n].iter().map(|rate| 1.0 / rate).collect()
    }

    /// To the horizon, or to where the sensed pressure reaches the level.
    pub fn advance(
        &self,
        stored: &NodeVec,
        drive: &Drive,
        level: Option<f64>,
        horizon_s: f64,
    ) -> Advance {
        let n = self.modes.n;
        let mut track = self.start(stored, drive);
        let reached = level.and_then(|level| {
            self.curve(&track, Signal::SensedPressure).first_at_or_above(level, horizon_s)
        });
        let t = reached.unwrap_or(horizon_s);
        for k in 0..n {
            let first = phi1(self.modes.rates[k], t);
            let second = phi2_from(self.modes.rates[k], t, first);
            track.y_end[k] = track.y[k] + track.velocity[k] * first;
            // y·φ₁ + input·φ₂: the same as y·t + velocity·φ₂, without its
            // cancellation in fast modes.
            let input = self.inputs[k] - self.wall[k] * drive.slope;
            track.y_integral[k] = track.y[k] * first + input * second;
        }
        track.muscle_end = drive.at(t);
        if drive.amplitude != 0.0 {
            self.add_wave(&mut track, t);
        }
        let mut z = track.y_end;
        let wall = self.pressed_by - track.muscle_end;
        for k in 0..n {
            z[k] -= self.wall[k] * wall;
        }
        Advance {
            duration_s: t,
            reached: reached.is_some(),
            stored: self.modes.stored(&z),
            track: super::Track::Exact(track),
            next_step_s: 0.0,
        }
    }

    pub fn first(&self, track: &Track, signal: Signal) -> f64 {
        self.signals[signal as usize].at(self.modes.n, &track.y, track.drive.at(0.0))
    }

    pub fn last(&self, track: &Track, signal: Signal) -> f64 {
        self.signals[signal as usize].at(self.modes.n, &track.y_end, track.muscle_end)
    }

    pub fn integral(&self, track: &Track, signal: Signal, duration_s: f64) -> f64 {
        let affine = &self.signals[signal as usize];
        let mut sum = affine.offset * duration_s + affine.dot(self.modes.n, &track.y_integral);
        if affine.muscle != 0.0 {
            sum += affine.muscle * track.drive.integral(duration_s);
        }
        sum
    }

    /// Gas at each node `t` after the start of a track.
    pub fn stored_at(&self, track: &Track, t: f64) -> NodeVec {
        let drive = &track.drive;
        let mut z = track.y;
        let wall = self.pressed_by - drive.at(t);
        for k in 0..self.modes.n {
            z[k] += track.velocity[k] * phi1(self.modes.rates[k], t) - self.wall[k] * wall;
        }
        if drive.amplitude != 0.0 {
            let angle = drive.omega * t + drive.theta;
            let (rise, turn) = (sin(angle) - sin(drive.theta), cos(angle) - cos(drive.theta));
            for k in 0..self.modes.n {
                let (in_phase, across) = self.response(drive, k);
                z[k] += in_phase * rise + across * turn;
            }
        }
        self.modes.stored(&z)
    }

    /// A signal along a track.
    pub fn curve(&self, track: &Track, signal: Signal) -> Curve<'_> {
        let (n, drive) = (self.modes.n, &track.drive);
        let affine = &self.signals[signal as usize];
        let mut curve = flat(n, &self.modes.rates, affine.at(n, &track.y, drive.at(0.0)));
        curve.ramp = affine.muscle * drive.slope;
        for k in 0..n {
            curve.slopes[k] = affine.weights[k] * track.velocity[k];
        }
        if drive.amplitude != 0.0 {
            let (mut sine, mut cosine) = (affine.muscle * drive.amplitude, 0.0);
            for k in 0..n {
                let (in_phase, across) = self.response(drive, k);
                sine += affine.weights[k] * in_phase;
                cosine += affine.weights[k] * across;
            }
            curve.wave = Some(Wave { sine, cosine, omega: drive.omega, theta: drive.theta });
        }
        curve
    }

    fn start(&self, stored: &NodeVec, drive: &Drive) -> Track {
        let mut y = self.modes.coordinates(stored);
        let mut velocity = [0.0; MAX_NODES];
        let wall = self.pressed_by - drive.at(0.0);
        for k in 0..self.modes.n {
            y[k] += self.wall[k] * wall;
            let mut driven = 0.0;
            if drive.amplitude != 0.0 {
                let (in_phase, across) = self.response(drive, k);
                driven = in_phase * sin(drive.theta) + across * cos(drive.theta);
            }
            velocity[k] =
                self.inputs[k] - self.wall[k] * drive.slope - self.modes.rates[k] * (y[k] - driven);
        }
        let none = [0.0; MAX_NODES];
        Track { y, velocity, y_end: none, y_integral: none, drive: *drive, muscle_end: 0.0 }
    }

    /// yₚ of mode k: its weights on sin(ωt+θ) and cos(ωt+θ).
    fn response(&self, drive: &Drive, k: usize) -> (f64, f64) {
        let (rate, omega) = (self.modes.rates[k], drive.omega);
        let common = -self.wall[k] * drive.amplitude * omega / (rate * rate + omega * omega);
        (common * omega, common * rate)
    }

    /// Adds yₚ(t) − yₚ(0) to the end, and ∫yₚ − yₚ(0)·φ₁ to the integral.
    fn add_wave(&self, track: &mut Track, t: f64) {
        let drive = track.drive;
        let (sin0, cos0) = (sin(drive.theta), cos(drive.theta));
        let angle = drive.omega * t + drive.theta;
        let (sin1, cos1) = (sin(angle), cos(angle));
        for k in 0..self.modes.n {
            let (in_phase, across) = self.response(&drive, k);
            let start = in_phase * sin0 + across * cos0;
            track.y_end[k] += in_phase * sin1 + across * cos1 - start;
            let wave = (in_phase * (cos0 - cos1) + across * (sin1 - sin0)) / drive.omega;
            track.y_integral[k] += wave - start * phi1(self.modes.rates[k], t);
        }
    }
}
