//! The exact road: every linear phase in closed form, effort included.

use super::driven::Driven;
use super::track::{Advance, ExactTrack, Reading};
use crate::base::math::{phi1, phi2_from};
use crate::plant::network::{MAX_NODES, NodeVec, NowhereToGo};
use crate::plant::plan::Plan;
use crate::plant::signal::Signal;
use crate::road::curve::Curve;
use crate::road::modes::Modes;
use crate::road::readout::{Affine, Readout, inputs, pressures};
use crate::road::ruled::Ruled;
use crate::setup::Drive;

/// By which two steps that are meant to be alike differ at most, as a share.
const SAME_STEP: f64 = 1e-11;

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

/// The modes at an instant, and the muscle pressure there.
#[derive(Clone, Copy, Debug)]
pub(crate) struct State {
    y: NodeVec,
    pub muscle: f64,
}

/// Where a reader stands on a track, which goes on in steps of mostly one length.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stand {
    at_s: f64,
    y: NodeVec,
    velocity: NodeVec,
    step_s: f64,
    /// φ₁ of each mode over a step.
    first: NodeVec,
}

impl Stand {
    /// At the start of a track.
    pub fn of(track: &ExactTrack) -> Self {
        let [y, velocity] = [track.y, track.velocity];
        Self { at_s: 0.0, y, velocity, step_s: 0.0, first: [0.0; MAX_NODES] }
    }
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
        let mut wall = [0.0; MAX_NODES];
        modes.coordinates(&moved, &mut wall);
        Ok(Some(Self {
            inputs: inputs(network, &reduced, &modes),
            wall,
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
        stored: &mut NodeVec,
        drive: &Drive,
        level: Option<f64>,
        horizon_s: f64,
        track: &mut ExactTrack,
    ) -> Advance {
        let n = self.modes.n();
        self.start(stored, drive, track);
        let reached = level.and_then(|level| {
            self.curve(track, Signal::SensedPressure).first_at_or_above(level, horizon_s)
        });
        let t = reached.unwrap_or(horizon_s);
        let driven = self.driven(drive);
        let (mut first, mut second) = ([0.0; MAX_NODES], [0.0; MAX_NODES]);
        for k in 0..n {
            first[k] = phi1(self.modes.rates[k], t);
            second[k] = phi2_from(self.modes.rates[k], t, first[k]);
        }
        driven.end(&track.y, &track.velocity, t, &first, &mut track.y_end);
        driven.integral(&track.y, t, &first, &second, &mut track.y_integral);
        track.muscle_end = drive.at(t);
        self.stored(&track.y_end, track.muscle_end, stored);
        Advance { duration_s: t, reached: reached.is_some(), next_step_s: 0.0, work: 1 }
    }

    /// The modes `t` after the start of a track.
    pub fn state_at(&self, track: &ExactTrack, t: f64) -> State {
        let mut first = [0.0; MAX_NODES];
        for k in 0..self.modes.n() {
            first[k] = phi1(self.modes.rates[k], t);
        }
        let mut y = [0.0; MAX_NODES];
        self.driven(&track.drive).end(&track.y, &track.velocity, t, &first, &mut y);
        State { y, muscle: track.drive.at(t) }
    }

    /// The modes `t` after the start of a track: as [`Exact::state_at`] within rounding, and
    /// sooner where `t` is a step after where one stood, as long as that before.
    pub fn state_on(&self, track: &ExactTrack, t: f64, stand: &mut Stand) -> State {
        let step_s = t - stand.at_s;
        if !track.at_rest || step_s <= 0.0 {
            return self.state_at(track, t);
        }
        let n = self.modes.n();
        if (step_s - stand.step_s).abs() > SAME_STEP * step_s {
            stand.step_s = step_s;
            for k in 0..n {
                stand.first[k] = phi1(self.modes.rates[k], step_s);
            }
        }
        for k in 0..n {
            stand.y[k] += stand.velocity[k] * stand.first[k];
            stand.velocity[k] *= 1.0 - self.modes.rates[k] * stand.first[k];
        }
        stand.at_s = t;
        State { y: stand.y, muscle: track.muscle_end }
    }

    /// The modes at the end of a track.
    pub fn state_end(&self, track: &ExactTrack) -> State {
        State { y: track.y_end, muscle: track.muscle_end }
    }

    /// Gas at a place, as a sum over the modes.
    pub fn held(&self, place: usize) -> Affine<MAX_NODES> {
        let mut held = Affine::constant(0.0);
        if let Some(weights) = self.modes.held(place) {
            held.weights = *weights;
            held.muscle = held.dot(self.modes.n(), &self.wall);
            held.offset = -held.muscle * self.pressed_by;
        }
        held
    }

    /// A signal, as a sum over the modes.
    pub fn signal(&self, signal: Signal) -> &Affine<MAX_NODES> {
        &self.signals[signal as usize]
    }

    /// The modes in a state.
    pub fn modes_in<'a>(&self, state: &'a State) -> &'a [f64] {
        &state.y[..self.modes.n()]
    }

    #[inline]
    fn stored(&self, y: &NodeVec, muscle: f64, stored: &mut NodeVec) {
        let mut z = [0.0; MAX_NODES];
        for k in 0..self.modes.n() {
            z[k] = y[k] - self.wall[k] * (self.pressed_by - muscle);
        }
        self.modes.stored(&z, stored);
    }

    pub fn last(&self, track: &ExactTrack, signal: Signal) -> f64 {
        self.signals[signal as usize].at(self.modes.n(), &track.y_end, track.muscle_end)
    }

    pub fn integral(&self, track: &ExactTrack, signal: Signal, duration_s: f64) -> f64 {
        let affine = &self.signals[signal as usize];
        let sum = affine.offset * duration_s + affine.dot(self.modes.n(), &track.y_integral);
        if affine.muscle == 0.0 {
            return sum;
        }
        sum + affine.muscle * track.drive.integral(duration_s)
    }

    /// A signal at both ends and over a track, in one pass over the modes.
    #[inline]
    pub fn reading(&self, track: &ExactTrack, signal: Signal, duration_s: f64) -> Reading {
        let affine = &self.signals[signal as usize];
        let (mut first, mut last) = (affine.offset, affine.offset);
        let mut integral = affine.offset * duration_s;
        let (mut rises, mut falls, mut pace) = (track.at_rest, track.at_rest, 0.0);
        for k in 0..self.modes.n() {
            let weight = affine.weights[k];
            let slope = weight * track.velocity[k];
            rises &= slope >= 0.0;
            falls &= slope <= 0.0;
            pace += slope;
            first += weight * track.y[k];
            last += weight * track.y_end[k];
            integral += weight * track.y_integral[k];
        }
        if affine.muscle != 0.0 {
            first += affine.muscle * track.drive.at(0.0);
            last += affine.muscle * track.muscle_end;
            integral += affine.muscle * track.drive.integral(duration_s);
        }
        // Of two terms of unlike sign the slower rules in the end: if it rules at
        // the start too, it does all along.
        let slower = affine.weights[0] * track.velocity[0];
        let two = track.at_rest && self.modes.n() == 2;
        let turns = !(rises || falls || two && pace * slower >= 0.0);
        let peaks = turns && !(track.at_rest && self.only_dips(track, affine));
        Reading { first, last, integral, turns, peaks }
    }

    /// Whether a signal does not turn, or only once and then up.
    fn only_dips(&self, track: &ExactTrack, affine: &Affine<MAX_NODES>) -> bool {
        let mut ruled = Ruled::default();
        for k in 0..self.modes.n() {
            ruled.add(affine.weights[k] * track.velocity[k]);
        }
        ruled.turns() == 0 || ruled.turns() == 1 && ruled.falls_first()
    }

    /// Smallest and largest value of a signal over a track, given its reading.
    #[inline]
    pub fn range(
        &self,
        track: &ExactTrack,
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
    pub fn curve<'a>(&'a self, track: &'a ExactTrack, signal: Signal) -> Curve<'a, MAX_NODES> {
        let affine = &self.signals[signal as usize];
        let start = affine.at(self.modes.n(), &track.y, track.drive.at(0.0));
        self.driven(&track.drive).curve(affine, start, &track.velocity)
    }

    #[inline]
    fn start(&self, stored: &NodeVec, drive: &Drive, track: &mut ExactTrack) {
        self.modes.coordinates(stored, &mut track.y);
        let wall = self.pressed_by - drive.at(0.0);
        for k in 0..self.modes.n() {
            track.y[k] += self.wall[k] * wall;
        }
        self.driven(drive).velocity(&track.y, &mut track.velocity);
        track.drive = *drive;
        track.at_rest = *drive == Drive::default();
    }

    #[inline]
    fn driven<'a>(&'a self, drive: &'a Drive) -> Driven<'a, MAX_NODES> {
        Driven { modes: &self.modes, inputs: &self.inputs, wall: &self.wall, drive }
    }
}
