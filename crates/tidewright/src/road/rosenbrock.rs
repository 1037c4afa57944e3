//! One step of the numeric road: an exponential Rosenbrock method of order five
//! with an embedded estimate of order three.
//!
//! Each step linearises the network where it stands. A linearised network is
//! again one of compliances and conductances, so the modal code of the exact
//! road gives the matrix functions: on a linear network every step is exact.
//!
//! Scheme (exprb53s3): Luan and Ostermann 2014, J. Comput. Appl. Math. 255:417,
//! coefficients from memory; the tests check the order conditions
//! Σ bᵢ·cᵢ² = 2φ₃, Σ bᵢ·cᵢ³ = 6φ₄, Σ bᵢ(0)·cᵢ⁴ = 24φ₅(0) and the observed order.

use super::gas::Gas;
use super::{Advance, Track as RoadTrack};
use crate::curve::{Curve, flat};
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
        let step = Linearised::new(plan, &self.stored, &self.drive).step(plan, t);
        step.end.read(plan.probe_of(signal))
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
    modes: Modes,
    /// Net flows in modal coordinates, and their change with time by the drive.
    inflow: NodeVec,
    drift: NodeVec,
    signals: [Affine; SIGNALS],
}

/// One step, before it is accepted.
pub(crate) struct StepTaken {
    pub h: f64,
    middle: Stage,
    late: Stage,
    pub end: Gas,
    stored: NodeVec,
    /// Estimated error over the tolerance.
    pub error: f64,
}
/// An inner stage: what the linearisation misses there.
struct Stage {
    missed: NodeVec,
    missed_signals: [f64; SIGNALS],
}

impl Linearised {
    pub fn new(plan: &Plan, stored: &NodeVec, drive: &Drive) -> Self {
        let network = &plan.network;
        let gas = Gas::new(plan, stored, drive.at(0.0));
        let conductances = &gas.conductances[..network.paths.len()];
        let reduced = network.reduce_with(conductances, [0.0; MAX_NODES]);
        let modes = Modes::of(network, &reduced, &gas.elastances);
        let readout = Readout::new(network, &reduced, &modes, conductances, &gas.elastances);
        let mut signals = Signal::ALL.map(|signal| readout.of(plan.probe_of(signal)));
        // Moving the wall moves the pressure of every node that stands on it.
        let mut with_wall = [0.0; MAX_NODES];
        for (i, node) in network.nodes.iter().enumerate() {
            if let Some(store) = &node.store {
                let parent = store.parent.map_or(0.0, |parent| with_wall[parent]);
                with_wall[i] = if store.moved { 1.0 } else { 0.0 } + parent;
            }
        }
        let mut by_wall = [0.0; MAX_NODES];
        for &i in &modes.storing[..modes.n] {
            by_wall[i] = -reduced.to_boundaries(i) * with_wall[i];
            for &j in &modes.storing[..modes.n] {
                by_wall[i] -= reduced.between(i, j) * (with_wall[i] - with_wall[j]);
            }
        }
        // At fixed stored gas, a signal follows the wall through those pressures.
        let dual = modes.dual_coordinates(&with_wall);
        for affine in &mut signals {
            affine.muscle -= affine.dot(modes.n, &dual);
        }
        Self {
            inflow: modes.coordinates(&gas.inflows),
            drift: modes.coordinates(&by_wall),
            stored: *stored,
            drive: *drive,
            gas,
            modes,
            signals,
        }
    }

    pub fn read(&self, plan: &Plan, signal: Signal) -> f64 {
        self.gas.read(plan.probe_of(signal))
    }

    /// v: the change of the modal inflow with time that the drive brings.
    fn drift(&self, k: usize) -> f64 {
        -self.drive.pace(0.0) * self.drift[k]
    }

    pub fn step(&self, plan: &Plan, h: f64) -> StepTaken {
        let n = self.modes.n;
        let (mut phi_half, mut phi_late, mut phi) =
            ([[0.0; 5]; MAX_NODES], [[0.0; 5]; MAX_NODES], [[0.0; 5]; MAX_NODES]);
        for k in 0..n {
            let x = h * self.modes.rates[k];
            (phi_half[k], phi_late[k], phi[k]) = (phis(0.5 * x), phis(0.9 * x), phis(x));
        }
        let linear = |c: f64, phi: &[[f64; 5]; MAX_NODES]| {
            let mut change = [0.0; MAX_NODES];
            for k in 0..n {
                let ch = c * h;
                change[k] = ch * phi[k][0] * self.inflow[k] + ch * ch * phi[k][1] * self.drift(k);
            }
            change
        };
        let middle = self.stage(plan, 0.5 * h, &linear(0.5, &phi_half));
        let mut at_late = linear(0.9, &phi_late);
        for k in 0..n {
            let weight = 27.0 / 25.0 * phi_half[k][2] + 729.0 / 125.0 * phi_late[k][2];
            at_late[k] += h * weight * middle.missed[k];
        }
        let late = self.stage(plan, 0.9 * h, &at_late);
        let mut change = linear(1.0, &phi);
        let mut embedded = change;
        for k in 0..n {
            let (third, fourth) = (phi[k][2], phi[k][3]);
            let (b2, b3) = weights(third, fourth);
            change[k] += h * (b2 * middle.missed[k] + b3 * late.missed[k]);
            embedded[k] += h * 8.0 * third * middle.missed[k];
        }
        let stored = self.stored_after(&change);
        let end = Gas::new(plan, &stored, self.drive.at(h));
        let error = self.relative_error(&change, &embedded, &end);
        StepTaken { h, middle, late, end, stored, error }
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
        let (n, h) = (self.modes.n, step.h);
        let mut phi = [[0.0; 5]; MAX_NODES];
        for k in 0..n {
            phi[k] = phis(h * self.modes.rates[k]);
        }
        let after = self.modes.coordinates(&step.end.inflows);
        for (i, signal) in Signal::ALL.into_iter().enumerate() {
            let affine = &self.signals[i];
            track.first[i] = self.read(plan, signal);
            track.last[i] = step.end.read(plan.probe_of(signal));
            let own = affine.muscle * self.drive.pace(0.0);
            track.pace[0][i] = affine.dot(n, &self.inflow) + own;
            track.pace[1][i] = affine.dot(n, &after) + affine.muscle * self.drive.pace(h);
            track.integral[i] =
                h * (track.first[i] + 0.5 * h * own) + h * self.integral_of_change(step, &phi, i);
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

    /// The mean over the step of what a signal gains by the modes: the same
    /// scheme applied to the signal as one more state, whose φₖ lag one behind.
    fn integral_of_change(&self, step: &StepTaken, phi: &[[f64; 5]; MAX_NODES], i: usize) -> f64 {
        let (h, by_mode) = (step.h, &self.signals[i].weights);
        let missed = (step.middle.missed_signals[i], step.late.missed_signals[i]);
        let (b2, b3) = weights(1.0 / 6.0, 1.0 / 24.0);
        let mut sum = missed.0 * b2 + missed.1 * b3;
        for k in 0..self.modes.n {
            let [_, second, third, fourth, fifth] = phi[k];
            let (b2, b3) = weights(fourth, fifth);
            let by_missed = b2 * step.middle.missed[k] + b3 * step.late.missed[k];
            let own = second * self.inflow[k] + h * third * self.drift(k);
            sum += by_mode[k] * h * (own + by_missed);
        }
        sum
    }

    fn stage(&self, plan: &Plan, t: f64, change: &NodeVec) -> Stage {
        let n = self.modes.n;
        let gas = Gas::new(plan, &self.stored_after(change), self.drive.at(t));
        let mut missed = self.modes.coordinates(&gas.inflows);
        for k in 0..n {
            missed[k] -= self.inflow[k] - self.modes.rates[k] * change[k] + t * self.drift(k);
        }
        let mut missed_signals = [0.0; SIGNALS];
        for (i, signal) in Signal::ALL.into_iter().enumerate() {
            let affine = &self.signals[i];
            missed_signals[i] = gas.read(plan.probe_of(signal))
                - self.read(plan, signal)
                - affine.dot(n, change)
                - affine.muscle * t * self.drive.pace(0.0);
        }
        Stage { missed, missed_signals }
    }

    fn stored_after(&self, change: &NodeVec) -> NodeVec {
        let mut stored = self.modes.stored(change);
        for (stored, before) in stored.iter_mut().zip(self.stored) {
            *stored += before;
        }
        stored
    }

    /// Largest error in a node's pressure over what is allowed there.
    fn relative_error(&self, change: &NodeVec, embedded: &NodeVec, end: &Gas) -> f64 {
        let mut worst: f64 = 0.0;
        for i in 0..self.modes.n {
            let mut error = 0.0;
            for k in 0..self.modes.n {
                error += self.modes.pressure[i][k] * (change[k] - embedded[k]);
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
        let n = self.modes.n;
        let mut curve = flat(n, &self.modes.rates, self.read(plan, Signal::SensedPressure));
        curve.ramp = affine.muscle * self.drive.pace(0.0);
        for k in 0..n {
            // A drift that lasts the whole step is bounded by taking it from the start.
            curve.slopes[k] = affine.weights[k] * self.inflow[k];
        }
        curve
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
        let errors: Vec<f64> = [8, 16, 32, 64].into_iter().map(error).collect();
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
