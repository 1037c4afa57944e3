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

mod written;

use std::cell::Cell;

use super::driven::Driven;
use super::gas::Gas;
use super::track::LOOKS;
use crate::base::math::{phis, phis_doubled};
use crate::plant::plan::Plan;
use crate::plant::signal::{Probe, Signal};
use crate::road::curve::Curve;
use crate::road::modes::Modes;
use crate::road::readout::{self, Affine, Readout};
use crate::setup::Drive;

/// Largest error allowed in a step, cmH2O, for pressures up to about 1 cmH2O,
/// and in proportion above.
pub(crate) const TOLERANCE: f64 = 1e-5;

/// So many rounds of flows are as much work as a step.
const ROUNDS_OF_A_STEP: u32 = 6;

/// A network of at most N nodes and P paths linearised at a moment, with what a
/// step from there needs.
pub(crate) struct Linearised<'a, const N: usize, const P: usize> {
    pub plan: &'a Plan,
    pub gas: Gas<N, P>,
    stored: [f64; N],
    drive: Drive,
    pub modes: Modes<N>,
    /// The pressure of each node in modal coordinates.
    pressures: [Affine<N>; N],
    /// Net flows in modal coordinates: the input of the modes, whose y starts at 0.
    inflow: [f64; N],
    /// w of the moving wall.
    wall: [f64; N],
    velocity: [f64; N],
    /// Steps taken from here.
    pub tries: Cell<u32>,
}

/// One step, before it is accepted.
pub(crate) struct StepTaken<const N: usize, const P: usize> {
    pub h: f64,
    middle: Stage<N, P>,
    late: Stage<N, P>,
    end: Stage<N, P>,
    /// φ₁ … φ₅ of each mode over the step.
    phi: [[f64; 5]; N],
    /// Estimated error over the tolerance.
    pub error: f64,
}

/// The state at a time within the step, and what the linearisation misses there.
struct Stage<const N: usize, const P: usize> {
    y: [f64; N],
    stored: [f64; N],
    gas: Gas<N, P>,
    inflow: [f64; N],
    missed: [f64; N],
}

impl<'a, const N: usize, const P: usize> Linearised<'a, N, P> {
    pub fn new(plan: &'a Plan, stored: &[f64; N], drive: &Drive) -> Self {
        let network = &plan.network;
        let gas = Gas::new(plan, stored, drive.at(0.0));
        let reduced = network.reduce_with(&gas.conductances[..network.paths.len()], [0.0; N]);
        let modes = Modes::of(network, &reduced, &gas.elastances);
        let mut wall = [0.0; N];
        if *drive != Drive::default() {
            // Moving the wall moves the pressure of every node that stands on it.
            for (i, node) in network.nodes.iter().enumerate() {
                if let Some(store) = &node.store {
                    let parent = store.parent.map_or(0.0, |parent| wall[parent]);
                    wall[i] = if store.moved { 1.0 } else { 0.0 } + parent;
                }
            }
            wall = modes.dual_coordinates(&wall);
        }
        let mut linearised = Self {
            plan,
            pressures: readout::pressures(network, &reduced, &modes),
            inflow: [0.0; N],
            wall,
            velocity: [0.0; N],
            tries: Cell::new(0),
            stored: *stored,
            drive: *drive,
            gas,
            modes,
        };
        linearised.modes.coordinates(&linearised.gas.inflows, &mut linearised.inflow);
        let mut velocity = [0.0; N];
        linearised.driven().velocity(&[0.0; N], &mut velocity);
        linearised.velocity = velocity;
        linearised
    }

    fn driven(&self) -> Driven<'_, N> {
        Driven { modes: &self.modes, inputs: &self.inflow, wall: &self.wall, drive: &self.drive }
    }

    pub fn step(&self, h: f64) -> StepTaken<N, P> {
        let mut step = StepTaken::none();
        self.take(h, &mut step);
        step
    }

    /// As [`Linearised::step`], in the place of a step no longer needed.
    pub fn take(&self, h: f64, step: &mut StepTaken<N, P>) {
        let n = self.modes.span();
        let (mut phi_half, mut phi_late) = ([[0.0; 5]; N], [[0.0; 5]; N]);
        for k in 0..n {
            let x = h * self.modes.rates[k];
            (phi_half[k], phi_late[k]) = (phis(0.5 * x), phis(0.9 * x));
            step.phi[k] = phis_doubled(0.5 * x, &phi_half[k]);
        }
        let StepTaken { middle, late, end, phi, .. } = step;
        self.stage(0.5 * h, self.linear(0.5 * h, &phi_half), middle);
        let mut y_late = self.linear(0.9 * h, &phi_late);
        for k in 0..n {
            y_late[k] += h * inner(phi_half[k][2], phi_late[k][2]) * middle.missed[k];
        }
        self.stage(0.9 * h, y_late, late);
        let mut y = self.linear(h, phi);
        for k in 0..n {
            let (b2, b3) = weights(phi[k][2], phi[k][3]);
            y[k] += h * (b2 * middle.missed[k] + b3 * late.missed[k]);
        }
        self.stage(h, y, end);
        let mut quartic = [0.0; N];
        for k in 0..n {
            // What the linearisation misses, as 1/2, 9/10 and the end of the step
            // have it: the weights let its square and cube cancel and its fourth
            // power through, which the scheme integrates to fifth order.
            let missed = 20.0 * (middle.missed[k] + end.missed[k]) - late.missed[k] / 0.0324;
            quartic[k] = h * 12.0 * phi[k][4] * missed;
        }
        step.error = self.relative_error(&quartic, &step.end.gas);
        step.h = h;
        let rounds = [&step.middle, &step.late, &step.end].map(|stage| stage.gas.rounds);
        self.tries.set(self.tries.get() + 1 + rounds.iter().sum::<u32>() / ROUNDS_OF_A_STEP);
    }

    /// y at `t` by the linearisation alone.
    fn linear(&self, t: f64, phi: &[[f64; 5]; N]) -> [f64; N] {
        let mut first = [0.0; N];
        for k in 0..self.modes.span() {
            first[k] = t * phi[k][0];
        }
        let mut y = [0.0; N];
        self.driven().end(&[0.0; N], &self.velocity, t, &first, &mut y);
        y
    }

    #[inline]
    fn stage(&self, t: f64, y: [f64; N], stage: &mut Stage<N, P>) {
        stage.y = y;
        self.stored_after(t, &y, &mut stage.stored);
        stage.gas.set(self.plan, &stage.stored, self.drive.at(t), Some(&self.gas));
        self.modes.coordinates(&stage.gas.inflows, &mut stage.inflow);
        for k in 0..self.modes.span() {
            stage.missed[k] = stage.inflow[k] - self.inflow[k] + self.modes.rates[k] * y[k];
        }
    }

    /// Gas at each node after `t`: z = y − w·(how far the wall has moved).
    fn stored_after(&self, t: f64, y: &[f64; N], stored: &mut [f64; N]) {
        let moved = self.drive.at(0.0) - self.drive.at(t);
        let mut z = *y;
        for k in 0..self.modes.span() {
            z[k] -= self.wall[k] * moved;
        }
        self.modes.stored(&z, stored);
        for (stored, before) in stored.iter_mut().zip(self.stored) {
            *stored += before;
        }
    }

    /// Largest error in a node's pressure over what is allowed there.
    fn relative_error(&self, by_mode: &[f64; N], end: &Gas<N, P>) -> f64 {
        let mut worst: f64 = 0.0;
        for i in 0..self.modes.n() {
            let mut error = 0.0;
            for k in 0..self.modes.span() {
                error += self.modes.pressure[i][k] * by_mode[k];
            }
            let size = 1.0 + end.pressures[self.modes.storing[i]].abs();
            let relative = error.abs() / (TOLERANCE * size);
            // NaN must not lose against a number.
            worst = if relative > worst || relative.is_nan() { relative } else { worst };
        }
        worst
    }

    /// Sensed pressure now.
    pub fn sensed_now(&self) -> f64 {
        self.gas.read(self.plan.probe_of(Signal::SensedPressure))
    }

    /// A signal as the linearisation has it.
    pub fn curve(&self, probe: &Probe) -> Curve<'_, N> {
        let network = &self.plan.network;
        let readout = Readout {
            network,
            conductances: &self.gas.conductances,
            elastances: &self.gas.elastances,
            pressures: &self.pressures,
        };
        self.driven().curve(&readout.of(probe), self.gas.read(probe), &self.velocity)
    }
}

impl<const N: usize, const P: usize> StepTaken<N, P> {
    /// What [`Linearised::take`] fills in.
    #[inline]
    pub fn none() -> Self {
        let none = || Stage {
            y: [0.0; N],
            stored: [0.0; N],
            gas: Gas::none(),
            inflow: [0.0; N],
            missed: [0.0; N],
        };
        let (middle, late, end) = (none(), none(), none());
        Self { h: 0.0, middle, late, end, phi: [[0.0; 5]; N], error: 0.0 }
    }

    /// What the step saw on its way from `start`: time since then, and the state.
    pub fn seen<'a>(&'a self, start: &'a Gas<N, P>) -> [(f64, &'a Gas<N, P>); 4] {
        let states = [start, &self.middle.gas, &self.late.gas, self.end()];
        std::array::from_fn(|i| (LOOKS[i] * self.h, states[i]))
    }

    /// Where the step leads.
    pub fn end(&self) -> &Gas<N, P> {
        &self.end.gas
    }

    /// Gas at each node there.
    pub fn stored(&self) -> &[f64; N] {
        &self.end.stored
    }
}

/// a₃₂ of the scheme from φ₃ at its two inner times.
fn inner(middle: f64, late: f64) -> f64 {
    27.0 / 25.0 * middle + 729.0 / 125.0 * late
}

/// b₂ and b₃ of the scheme from φ₃ and φ₄ (or what stands in their place).
fn weights(third: f64, fourth: f64) -> (f64, f64) {
    (18.0 * third - 60.0 * fourth, 500.0 / 27.0 * fourth - 250.0 / 81.0 * third)
}

#[cfg(test)]
#[allow(clippy::disallowed_methods)]
mod tests {
    use super::*;
    use crate::plant::network::{MAX_NODES, MAX_PATHS};
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
            let (mut stored, h) = (plan.by_node(&start), 0.2 / f64::from(steps));
            for i in 0..steps {
                let t = h * f64::from(i);
                let theta = drive.theta + drive.omega * t;
                let drive = Drive { offset: drive.offset + drive.slope * t, theta, ..drive };
                let here = Linearised::<MAX_NODES, MAX_PATHS>::new(&plan, &stored, &drive);
                stored = *here.step(h).stored();
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
        // Σ bᵢ(0)·cᵢ·ψᵢ = 0 with ψᵢ = Σₖ aᵢₖ·cₖ²/2 − cᵢ³·φ₃(cᵢ·), the last condition of order 5.
        for x in [0.0, 0.1, 0.7, 3.0, 40.0] {
            let [middle, late] = [0.5, 0.9].map(|c| phis(c * x)[2]);
            let psi_middle = -0.5_f64.powi(3) * middle;
            let psi_late = inner(middle, late) * 0.125 - 0.9_f64.powi(3) * late;
            assert!((b2 * 0.5 * psi_middle + b3 * 0.9 * psi_late).abs() < 1e-14);
        }
    }
}
