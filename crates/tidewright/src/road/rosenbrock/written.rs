//! What is written down of an accepted step: every signal at its looks, and the
//! integrals over it.

use super::{Linearised, StepTaken, weights};
use crate::plant::network::End;
use crate::road::gas::Paces;
use crate::road::track::{LOOKS, NotFinite, Part, Stepped};

impl<const N: usize, const P: usize> Linearised<'_, N, P> {
    /// Writes down everything over the step.
    pub fn arrive(&self, step: &StepTaken<N, P>, track: &mut Stepped) -> Result<(), NotFinite> {
        track.stored = self.plan.by_place(&self.stored);
        track.stored_end = self.plan.by_place(&step.end.stored);
        track.drive = self.drive;
        track.parts.clear();
        self.write_parts(step, &mut track.parts);
        let finite = |part: &Part| part.last.is_finite() && part.integral.is_finite();
        if track.parts.iter().all(finite) { Ok(()) } else { Err(NotFinite) }
    }

    /// Pressures, flows and volumes over the step. Their integrals are the scheme
    /// applied to them as further states.
    fn write_parts(&self, step: &StepTaken<N, P>, parts: &mut Vec<Part>) {
        let network = &self.plan.network;
        let (n, h) = (self.modes.span(), step.h);
        let (b2, b3) = weights(1.0 / 6.0, 1.0 / 24.0);
        let mean_y = self.mean_y(step);
        let stages = [&self.gas, &step.middle.gas, &step.late.gas, &step.end.gas];
        let paces: [Paces<N, P>; 4] =
            std::array::from_fn(|i| stages[i].paces(self.plan, self.drive.pace(LOOKS[i] * h)));
        let mut beside = mean_y;
        for k in 0..n {
            beside[k] -= b2 * step.middle.y[k] + b3 * step.late.y[k];
        }
        let dot =
            |weights: &[f64; N], y: &[f64; N]| -> f64 { (0..n).map(|k| weights[k] * y[k]).sum() };
        let part = |weights: &[f64; N], seen: [f64; 4], pace: [f64; 4]| {
            let [first, middle, late, last] = seen;
            let beside = dot(weights, &beside) + b2 * (middle - first) + b3 * (late - first);
            Part { first, last, integral: h * (first + beside), pace }
        };
        for i in 0..network.nodes.len() {
            let seen = stages.map(|gas| gas.pressures[i]);
            let pace = std::array::from_fn(|look| paces[look].pressures[i]);
            parts.push(part(&self.pressures[i].weights, seen, pace));
        }
        let none = [0.0; N];
        let weights_at = |end: End| end.as_node().map_or(&none, |i| &self.pressures[i].weights);
        for (i, path) in network.paths.iter().enumerate() {
            let (mut through, from, to) = ([0.0; N], weights_at(path.from), weights_at(path.to));
            for k in 0..n {
                through[k] = self.gas.conductances[i] * (from[k] - to[k]);
            }
            let pace = std::array::from_fn(|look| paces[look].flows[i]);
            parts.push(part(&through, stages.map(|gas| gas.flows[i]), pace));
        }
        // A volume follows the gas stored in it, which bends with nothing.
        let muscle_gain = self.drive.integral(h) - h * self.drive.at(0.0);
        let held = self.modes.volumes(network);
        for (i, weights) in held.iter().enumerate().take(network.nodes.len()) {
            let moved = dot(weights, &self.wall);
            let first = self.gas.volumes[i];
            parts.push(Part {
                first,
                last: step.end.gas.volumes[i],
                integral: h * (first + dot(weights, &mean_y)) + moved * muscle_gain,
                pace: std::array::from_fn(|look| paces[look].volumes[i]),
            });
        }
    }

    /// The mean of y over the step; what the linearisation misses enters by φₖ
    /// that lag one behind.
    fn mean_y(&self, step: &StepTaken<N, P>) -> [f64; N] {
        let (n, h, phi) = (self.modes.span(), step.h, &step.phi);
        let (mut first, mut second) = ([0.0; N], [0.0; N]);
        for k in 0..n {
            (first[k], second[k]) = (h * phi[k][0], h * h * phi[k][1]);
        }
        let mut mean = [0.0; N];
        self.driven().integral(&[0.0; N], h, &first, &second, &mut mean);
        for k in 0..n {
            let (b2, b3) = weights(phi[k][3], phi[k][4]);
            let missed = b2 * step.middle.missed[k] + b3 * step.late.missed[k];
            mean[k] = mean[k] / h.max(f64::MIN_POSITIVE) + h * missed;
        }
        mean
    }
}
