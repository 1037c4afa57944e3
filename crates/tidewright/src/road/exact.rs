//! The exact road: every linear phase in closed form, effort included.

use super::driven::Driven;
use super::{Advance, Reading};
use crate::curve::Curve;
use crate::math::{phi1, phi2_from};
use crate::modes::Modes;
use crate::network::{MAX_NODES, NodeVec, NowhereToGo};
use crate::plan::Plan;
use crate::readout::{Affine, Readout, inputs, pressures};
use crate::setup::Drive;
use crate::signal::Signal;

/// A linear network made ready.
#[derive(Clone, Debug)]
pub(crate) struct Exact {
    modes: Modes<MAX_NODES>,
    inputs: NodeVec,
    /// w.
    wall: NodeVec,
    pressed_by: f64,
    signals: [Affine<MAX_NODES>; Signal::ALL.len()],
}

/// The solution over one piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Track {
    y: NodeVec,
    velocity: NodeVec,
    y_end: NodeVec,
    y_integral: NodeVec,
    drive: Drive,
    /// Whether no muscle pulls.
    at_rest: bool,
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
        let readout = Readout {
            network,
            conductances: &conductances,
            elastances: &elastances,
            pressures: &pressures(network, &reduced, &modes),
        };
        let signals = Signal::ALL.map(|signal| readout.of(plan.probe_of(signal)));
        Ok(Some(Self {
            inputs: inputs(network, &reduced, &modes),
            wall: modes.coordinates(&moved),
            pressed_by: network.pressed_by,
            signals,
            modes: modes.at_places(&plan.places),
        }))
    }

    /// Time constants, slowest first, s.
    pub fn time_constants_s(&self) -> Vec<f64> {
        self.modes.rates[..self.modes.n()].iter().map(|rate| 1.0 / rate).collect()
    }

    /// To the horizon, or to where the sensed pressure reaches the level.
    #[inline]
    pub fn advance(
        &self,
        stored: &NodeVec,
        drive: &Drive,
        level: Option<f64>,
        horizon_s: f64,
    ) -> Advance {
        let n = self.modes.n();
        let mut track = self.start(stored, drive);
        let reached = level.and_then(|level| {
            self.curve(&track, Signal::SensedPressure).first_at_or_above(level, horizon_s)
        });
        let t = reached.unwrap_or(horizon_s);
        let driven = self.driven(drive);
        let (mut first, mut second) = ([0.0; MAX_NODES], [0.0; MAX_NODES]);
        for k in 0..n {
            first[k] = phi1(self.modes.rates[k], t);
            second[k] = phi2_from(self.modes.rates[k], t, first[k]);
        }
        track.y_end = driven.end(&track.y, &track.velocity, t, &first);
        track.y_integral = driven.integral(&track.y, t, &first, &second);
        track.muscle_end = drive.at(t);
        Advance {
            duration_s: t,
            reached: reached.is_some(),
            stored: self.stored(track.y_end, track.muscle_end),
            track: super::Track::Exact(track),
            next_step_s: 0.0,
        }
    }

    /// Gas at each node `t` after the start of a track.
    pub fn stored_at(&self, track: &Track, t: f64) -> NodeVec {
        let mut first = [0.0; MAX_NODES];
        for k in 0..self.modes.n() {
            first[k] = phi1(self.modes.rates[k], t);
        }
        let y = self.driven(&track.drive).end(&track.y, &track.velocity, t, &first);
        self.stored(y, track.drive.at(t))
    }

    #[inline]
    fn stored(&self, mut y: NodeVec, muscle: f64) -> NodeVec {
        for k in 0..self.modes.n() {
            y[k] -= self.wall[k] * (self.pressed_by - muscle);
        }
        self.modes.stored(&y)
    }

    pub fn last(&self, track: &Track, signal: Signal) -> f64 {
        self.signals[signal as usize].at(self.modes.n(), &track.y_end, track.muscle_end)
    }

    pub fn integral(&self, track: &Track, signal: Signal, duration_s: f64) -> f64 {
        let affine = &self.signals[signal as usize];
        let sum = affine.offset * duration_s + affine.dot(self.modes.n(), &track.y_integral);
        if affine.muscle == 0.0 {
            return sum;
        }
        sum + affine.muscle * track.drive.integral(duration_s)
    }

    /// A signal at both ends and over a track, in one pass over the modes.
    #[inline]
    pub fn reading(&self, track: &Track, signal: Signal, duration_s: f64) -> Reading {
        let affine = &self.signals[signal as usize];
        let (mut first, mut last) = (affine.offset, affine.offset);
        let mut integral = affine.offset * duration_s;
        let (mut rises, mut falls, mut pace) = (track.at_rest, track.at_rest, 0.0);
        for k in 0..self.modes.n() {
            let weight = affine.weights[k];
            let slope = weight * track.velocity[k];
            first += weight * track.y[k];
            last += weight * track.y_end[k];
            integral += weight * track.y_integral[k];
            rises &= slope >= 0.0;
            falls &= slope <= 0.0;
            pace += slope;
        }
        if affine.muscle != 0.0 {
            first += affine.muscle * track.drive.at(0.0);
            last += affine.muscle * track.muscle_end;
            integral += affine.muscle * track.drive.integral(duration_s);
        }
        // Of two terms of unlike sign the slower rules in the end: if it rules at
        // the start too, it does all along.
        let slower = affine.weights[0] * track.velocity[0];
        let settled = track.at_rest && self.modes.n() == 2 && pace * slower >= 0.0;
        Reading { first, last, integral, turns: !(rises || falls || settled) }
    }

    /// Smallest and largest value of a signal over a track, given its reading.
    #[inline]
    pub fn range(
        &self,
        track: &Track,
        signal: Signal,
        duration_s: f64,
        reading: &Reading,
    ) -> (f64, f64) {
        if reading.turns {
            return self.curve(track, signal).range(duration_s, reading.last);
        }
        (reading.first.min(reading.last), reading.first.max(reading.last))
    }

    /// A signal along a track.
    #[inline]
    pub fn curve<'a>(&'a self, track: &'a Track, signal: Signal) -> Curve<'a, MAX_NODES> {
        let affine = &self.signals[signal as usize];
        let start = affine.at(self.modes.n(), &track.y, track.drive.at(0.0));
        self.driven(&track.drive).curve(affine, start, &track.velocity)
    }

    #[inline]
    fn start(&self, stored: &NodeVec, drive: &Drive) -> Track {
        let mut y = self.modes.coordinates(stored);
        let wall = self.pressed_by - drive.at(0.0);
        for k in 0..self.modes.n() {
            y[k] += self.wall[k] * wall;
        }
        let velocity = self.driven(drive).velocity(&y);
        let (none, at_rest) = ([0.0; MAX_NODES], *drive == Drive::default());
        Track {
            y,
            velocity,
            y_end: none,
            y_integral: none,
            drive: *drive,
            at_rest,
            muscle_end: 0.0,
        }
    }

    #[inline]
    fn driven<'a>(&'a self, drive: &'a Drive) -> Driven<'a, MAX_NODES> {
        Driven { modes: &self.modes, inputs: &self.inputs, wall: &self.wall, drive }
    }
}
