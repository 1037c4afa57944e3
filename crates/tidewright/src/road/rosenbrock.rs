//! One step of the numeric road: an exponential Rosenbrock method of order five
//! with an estimate of its error to order four.
//!
//! Each step linearises the network where it stands. A linearised network is
//! again one of compliances and conductances, so the modal code of the exact
//! road gives the matrix functions: on a linear network every step is exact.
//!
//! Scheme (exprb53s3): Luan and Ostermann 2014, J. Comput. Appl. Math. 255:417,
//! coefficients from memory; the tests check the order conditions
//! Σ bᵢ·cᵢ² = 2φ₃, Σ bᵢ·cᵢ³ = 6φ₄, Σ bᵢ(0)·cᵢ⁴ = 24φ₅(0) and the observed order.

use super::driven::Driven;
use super::gas::Gas;
use super::{Advance, Track as RoadTrack};
use crate::curve::Curve;
use crate::math::phis;
use crate::modes::Modes;
use crate::network::{MAX_NODES, NodeVec};
use crate::plan::Plan;
use crate::readout::{Affine, Readout};
use crate::setup::Drive;
use crate::signal::Signal;

const SIGNALS: usize = Signal::ALL.len();

/// Largest error allowed in a step, cmH2O, for pressures up to about 1 cmH2O,
/// and in proportion above.
pub(crate) const TOLERANCE: f64 = 1e-5;

/// What a piece of a stepped road remembers: its start, and every signal at its
/// ends and integrated over it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Track {
    pub stored: NodeVec,
    pub stored_end: NodeVec,
    pub drive: Drive,
    pub first: [f64; SIGNALS],
    pub last: [f64; SIGNALS],
    pub integral: [f64; SIGNALS],
    /// Rate of change of each signal at both ends.
    pub pace: [[f64; SIGNALS]; 2],
}

/// The law of a setup gave no finite number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct NotFinite;

impl Track {
    /// Every signal `t` after the start: the step taken anew to that time.
    pub fn at(&self, plan: &Plan, signal: Signal, t: f64) -> f64 {
        self.reader(plan, signal)(t)
    }

    /// As [`Track::at`], for several times.
    pub fn reader<'a>(&self, plan: &'a Plan, signal: Signal) -> impl Fn(f64) -> f64 + use<'a> {
        let linearised = Linearised::new(plan, &self.stored, &self.drive);
        move |t| linearised.step(plan, t).end.read(plan.probe_of(signal))
    }

    /// Gas at each node `t` after the start.
    pub fn stored_at(&self, plan: &Plan, t: f64) -> NodeVec {
        Linearised::new(plan, &self.stored, &self.drive).step(plan, t).stored
    }
}

/// A network linearised at a moment, with what a step from there needs.
pub(crate) struct Linearised {
    pub gas: Gas,
    stored: NodeVec,
    drive: Drive,
    pub modes: Modes,
    /// Net flows in modal coordinates: the input of the modes, whose y starts at 0.
    inflow: NodeVec,
    /// w of the moving wall.
    wall: NodeVec,
    velocity: NodeVec,
    signals: [Affine; SIGNALS],
}

/// One step, before it is accepted.
pub(crate) struct StepTaken {
    pub h: f64,
    middle: Stage,
    late: Stage,
    pub end: Gas,
    inflow_after: NodeVec,
    stored: NodeVec,
    /// Estimated error over the tolerance.
    pub error: f64,
}

/// An inner stage, and what the linearisation misses there.
struct Stage {
    t: f64,
    y: NodeVec,
    stored: NodeVec,
    gas: Gas,
    inflow: NodeVec,
    missed: NodeVec,
}

impl Linearised {
    pub fn new(plan: &Plan, stored: &NodeVec, drive: &Drive) -> Self {
        let network = &plan.network;
        let gas = Gas::new(plan, stored, drive.at(0.0));
        let conductances = &gas.conductances[..network.paths.len()];
        let reduced = network.reduce_with(conductances, [0.0; MAX_NODES]);
        let modes = Modes::of(network, &reduced, &gas.elastances);
        let readout = Readout::new(network, &reduced, &modes, conductances, &gas.elastances);
        let signals = Signal::ALL.map(|signal| readout.of(plan.probe_of(signal)));
        // Moving the wall moves the pressure of every node that stands on it.
        let mut with_wall = [0.0; MAX_NODES];
        for (i, node) in network.nodes.iter().enumerate() {
            if let Some(store) = &node.store {
                let parent = store.parent.map_or(0.0, |parent| with_wall[parent]);
                with_wall[i] = if store.moved { 1.0 } else { 0.0 } + parent;
            }
        }
        let mut linearised = Self {
            inflow: modes.coordinates(&gas.inflows),
            wall: modes.dual_coordinates(&with_wall),
            velocity: [0.0; MAX_NODES],
            stored: *stored,
            drive: *drive,
            gas,
            modes,
            signals,
        };
        linearised.velocity = linearised.driven().velocity(&[0.0; MAX_NODES]);
        linearised
    }

    fn driven(&self) -> Driven<'_> {
        Driven { modes: &self.modes, inputs: &self.inflow, wall: &self.wall, drive: &self.drive }
    }

    pub fn read(&self, plan: &Plan, signal: Signal) -> f64 {
        self.gas.read(plan.probe_of(signal))
    }

    pub fn step(&self, plan: &Plan, h: f64) -> StepTaken {
        let n = self.modes.n();
        let (mut phi_half, mut phi_late, mut phi) =
            ([[0.0; 5]; MAX_NODES], [[0.0; 5]; MAX_NODES], [[0.0; 5]; MAX_NODES]);
        for k in 0..n {
            let x = h * self.modes.rates[k];
            (phi_half[k], phi_late[k], phi[k]) = (phis(0.5 * x), phis(0.9 * x), phis(x));
        }
        let middle = self.stage(plan, 0.5 * h, self.linear(0.5 * h, &phi_half));
        let mut y_late = self.linear(0.9 * h, &phi_late);
        for k in 0..n {
            let weight = 27.0 / 25.0 * phi_half[k][2] + 729.0 / 125.0 * phi_late[k][2];
            y_late[k] += h * weight * middle.missed[k];
        }
        let late = self.stage(plan, 0.9 * h, y_late);
        let mut y = self.linear(h, &phi);
        for k in 0..n {
            let (b2, b3) = weights(phi[k][2], phi[k][3]);
            y[k] += h * (b2 * middle.missed[k] + b3 * late.missed[k]);
        }
        let end = self.stage(plan, h, y);
        let mut quartic = [0.0; MAX_NODES];
        for k in 0..n {
            // What the linearisation misses, as 1/2, 9/10 and the end of the step
            // have it: the weights let its square and cube cancel and its fourth
            // power through, which the scheme integrates to fifth order.
            let missed = 20.0 * (middle.missed[k] + end.missed[k]) - late.missed[k] / 0.0324;
            quartic[k] = h * 12.0 * phi[k][4] * missed;
        }
        let error = self.relative_error(&quartic, &end.gas);
        let Stage { gas: end, inflow: inflow_after, stored, .. } = end;
        StepTaken { h, middle, late, end, inflow_after, stored, error }
    }

    /// y at `t` by the linearisation alone.
    fn linear(&self, t: f64, phi: &[[f64; 5]; MAX_NODES]) -> NodeVec {
        let mut first = [0.0; MAX_NODES];
        for k in 0..self.modes.n() {
            first[k] = t * phi[k][0];
        }
        self.driven().end(&[0.0; MAX_NODES], &self.velocity, t, &first)
    }

    /// Every signal over the step, and where it leads.
    pub fn arrive(
        &self,
        plan: &Plan,
        step: &StepTaken,
        reached: bool,
        next_step_s: f64,
    ) -> Result<Advance, NotFinite> {
        let mut track = Track {
            stored: self.stored,
            stored_end: step.stored,
            drive: self.drive,
            first: [0.0; SIGNALS],
            last: [0.0; SIGNALS],
            integral: [0.0; SIGNALS],
            pace: [[0.0; SIGNALS]; 2],
        };
        let (n, h) = (self.modes.n(), step.h);
        let mean_y = self.mean_y(step);
        let (pace, pace_after) = (self.drive.pace(0.0), self.drive.pace(h));
        let (mut y_pace, mut y_pace_after) = (self.inflow, step.inflow_after);
        for k in 0..n {
            y_pace[k] -= self.wall[k] * pace;
            y_pace_after[k] -= self.wall[k] * pace_after;
        }
        let muscle_gain = self.drive.integral(h) - h * self.drive.at(0.0);
        let (b2, b3) = weights(1.0 / 6.0, 1.0 / 24.0);
        for (i, signal) in Signal::ALL.into_iter().enumerate() {
            let affine = &self.signals[i];
            track.first[i] = self.read(plan, signal);
            track.last[i] = step.end.read(plan.probe_of(signal));
            track.pace[0][i] = affine.dot(n, &y_pace) + affine.muscle * pace;
            track.pace[1][i] = affine.dot(n, &y_pace_after) + affine.muscle * pace_after;
            // The same scheme applied to the signal's integral as one more state.
            let missed = b2 * self.missed_signal(plan, &step.middle, i, track.first[i])
                + b3 * self.missed_signal(plan, &step.late, i, track.first[i]);
            track.integral[i] = h * (track.first[i] + affine.dot(n, &mean_y) + missed)
                + affine.muscle * muscle_gain;
        }
        if !track.last.iter().chain(&track.integral).all(|x| x.is_finite()) {
            return Err(NotFinite);
        }
        Ok(Advance {
            duration_s: h,
            reached,
            stored: step.stored,
            track: RoadTrack::Stepped(Box::new(track)),
            next_step_s,
        })
    }

    /// The mean of y over the step; what the linearisation misses enters by φₖ
    /// that lag one behind.
    fn mean_y(&self, step: &StepTaken) -> NodeVec {
        let (n, h) = (self.modes.n(), step.h);
        let mut phi = [[0.0; 5]; MAX_NODES];
        let (mut first, mut second) = ([0.0; MAX_NODES], [0.0; MAX_NODES]);
        for k in 0..n {
            phi[k] = phis(h * self.modes.rates[k]);
            (first[k], second[k]) = (h * phi[k][0], h * h * phi[k][1]);
        }
        let mut mean = self.driven().integral(&[0.0; MAX_NODES], h, &first, &second);
        for k in 0..n {
            let (b2, b3) = weights(phi[k][3], phi[k][4]);
            let missed = b2 * step.middle.missed[k] + b3 * step.late.missed[k];
            mean[k] = mean[k] / h.max(f64::MIN_POSITIVE) + h * missed;
        }
        mean
    }

    fn stage(&self, plan: &Plan, t: f64, y: NodeVec) -> Stage {
        let stored = self.stored_after(t, &y);
        let gas = Gas::new(plan, &stored, self.drive.at(t));
        let inflow = self.modes.coordinates(&gas.inflows);
        let mut missed = [0.0; MAX_NODES];
        for k in 0..self.modes.n() {
            missed[k] = inflow[k] - self.inflow[k] + self.modes.rates[k] * y[k];
        }
        Stage { t, y, stored, gas, inflow, missed }
    }

    /// What the linearisation misses of signal `i`, which was `first`, at a stage.
    fn missed_signal(&self, plan: &Plan, stage: &Stage, i: usize, first: f64) -> f64 {
        let (affine, probe) = (&self.signals[i], plan.probe_of(Signal::ALL[i]));
        let linear = affine.dot(self.modes.n(), &stage.y)
            + affine.muscle * (self.drive.at(stage.t) - self.drive.at(0.0));
        stage.gas.read(probe) - first - linear
    }

    /// Gas at each node after `t`: z = y − w·(how far the wall has moved).
    fn stored_after(&self, t: f64, y: &NodeVec) -> NodeVec {
        let moved = self.drive.at(0.0) - self.drive.at(t);
        let mut z = *y;
        for k in 0..self.modes.n() {
            z[k] -= self.wall[k] * moved;
        }
        let mut stored = self.modes.stored(&z);
        for (stored, before) in stored.iter_mut().zip(self.stored) {
            *stored += before;
        }
        stored
    }

    /// Largest error in a node's pressure over what is allowed there.
    fn relative_error(&self, by_mode: &NodeVec, end: &Gas) -> f64 {
        let mut worst: f64 = 0.0;
        for i in 0..self.modes.n() {
            let mut error = 0.0;
            for k in 0..self.modes.n() {
                error += self.modes.pressure[i][k] * by_mode[k];
            }
            let size = 1.0 + end.pressures[self.modes.storing[i]].abs();
            let relative = error.abs() / (TOLERANCE * size);
            // NaN must not lose against a number.
            worst = if relative > worst || relative.is_nan() { relative } else { worst };
        }
        worst
    }

    /// Sensed pressure as the linearisation has it.
    pub fn sensed(&self, plan: &Plan) -> Curve<'_> {
        let affine = &self.signals[Signal::SensedPressure as usize];
        let start = self.read(plan, Signal::SensedPressure);
        self.driven().curve(affine, start, &self.velocity)
    }
}

/// b₂ and b₃ of the scheme from φ₃ and φ₄ (or what stands in their place).
fn weights(third: f64, fourth: f64) -> (f64, f64) {
    (18.0 * third - 60.0 * fourth, 500.0 / 27.0 * fourth - 250.0 / 81.0 * third)
}

#[cfg(test)]
#[allow(clippy::disallowed_methods)]
mod tests {
    use super::*;
    use crate::prelude::*;

    /// A smooth non-linear machine: orifice leak, quadratic tube, sigmoid lung.
    fn curved() -> Plan {
        let mut setup = Setup::default();
        setup.circuit.leak = Some(Leak::orifice(Flow::ml_s(5.0), Pressure::cmh2o(30.0)));
        setup.circuit.compliance = Compliance::ml_per_cmh2o(1.0);
        setup.lung.tube = Tube::Quadratic { k1: 15.0, k2: 100.0 };
        setup.lung.compartments[0].law = PressureVolume::Sigmoid {
            lower: Volume::ml(-20.0),
            span: Volume::ml(120.0),
            middle: Pressure::cmh2o(8.0),
            width: Pressure::cmh2o(4.0),
        };
        Plan::new(&setup, false)
    }

    #[test]
    fn closed_form_order_of_the_scheme_is_near_five() {
        let plan = curved();
        let start = plan.stored_at_rest(3.0);
        let drive = Drive { offset: 1.0, slope: -0.5, amplitude: 2.0, omega: 3.0, theta: 0.4 };
        let run = |steps: u32| {
            let (mut stored, h) = (start, 0.2 / f64::from(steps));
            for i in 0..steps {
                let t = h * f64::from(i);
                let theta = drive.theta + drive.omega * t;
                let drive = Drive { offset: drive.offset + drive.slope * t, theta, ..drive };
                stored = Linearised::new(&plan, &stored, &drive).step(&plan, h).stored;
            }
            stored
        };
        let best = run(2048);
        let error = |steps| {
            let stored = run(steps);
            (0..MAX_NODES).map(|i| (stored[i] - best[i]).abs()).sum::<f64>()
        };
        let errors: Vec<f64> = [4, 8, 16, 32].into_iter().map(error).collect();
        for pair in errors.windows(2) {
            let order = (pair[0] / pair[1]).log2();
            assert!(order > 4.7, "observed order {order:.2} of errors {errors:?}");
        }
    }

    #[test]
    fn closed_form_order_conditions_hold() {
        for x in [0.0, 0.1, 0.7, 3.0, 40.0] {
            let [_, _, third, fourth, _] = phis(x);
            let (b2, b3) = weights(third, fourth);
            let (c2, c3) = (0.5_f64, 0.9_f64);
            assert!((b2 * c2 * c2 + b3 * c3 * c3 - 2.0 * third).abs() < 1e-14);
            assert!((b2 * c2.powi(3) + b3 * c3.powi(3) - 6.0 * fourth).abs() < 1e-14);
        }
        let (b2, b3) = weights(1.0 / 6.0, 1.0 / 24.0);
        assert!((b2 * 0.5_f64.powi(4) + b3 * 0.9_f64.powi(4) - 24.0 / 120.0).abs() < 1e-14);
        // The inner weight a32 makes Σ bᵢ(0)·cᵢ·ψᵢ vanish: its φ₃(c₂·) part is b₂c₂/(b₃c₃).
        assert!((b2 * 0.5 / (b3 * 0.9) - 27.0 / 25.0).abs() < 1e-14);
    }
}
