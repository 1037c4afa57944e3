//! A signal as an affine function of modal coordinates: what a probe becomes
//! once a network is linear, or linearised.

use crate::plant::network::{End, Network, Reduced};
use crate::plant::signal::Probe;
use crate::road::modes::Modes;

/// offset + Σ weight·y + muscle·(muscle pressure).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Affine<const N: usize> {
    pub offset: f64,
    pub weights: [f64; N],
    pub muscle: f64,
}

impl<const N: usize> Affine<N> {
    pub fn constant(offset: f64) -> Self {
        Self { offset, weights: [0.0; N], muscle: 0.0 }
    }

    pub fn at(&self, n: usize, y: &[f64; N], muscle: f64) -> f64 {
        self.offset + self.dot(n, y) + self.muscle * muscle
    }

    /// The part that depends on the modes.
    pub fn dot(&self, n: usize, y: &[f64; N]) -> f64 {
        let mut sum = 0.0;
        for k in 0..n.min(N) {
            sum += self.weights[k] * y[k];
        }
        sum
    }

    fn add(&mut self, other: &Self, factor: f64) {
        self.offset += factor * other.offset;
        self.muscle += factor * other.muscle;
        for (weight, more) in self.weights.iter_mut().zip(other.weights) {
            *weight += factor * more;
        }
    }
}

/// The pressures of all nodes as affine functions, and with them every probe.
pub(crate) struct Readout<'a, const N: usize> {
    pub network: &'a Network,
    pub conductances: &'a [f64],
    pub elastances: &'a [f64; N],
    pub pressures: &'a [Affine<N>; N],
}

/// The pressure of each node.
pub(crate) fn pressures<const N: usize>(
    network: &Network,
    reduced: &Reduced<N>,
    modes: &Modes<N>,
) -> [Affine<N>; N] {
    let mut pressures = [Affine::constant(0.0); N];
    for i in 0..modes.n() {
        pressures[modes.storing[i]].weights = modes.pressure[i];
    }
    reduced.back_substitute(network.nodes.len(), |node, offset, arms| {
        let mut sum = Affine::constant(offset);
        for &(end, weight) in arms {
            sum.add(&pressure_at(network, &pressures, end), weight);
        }
        pressures[node] = sum;
    });
    pressures
}

impl<const N: usize> Readout<'_, N> {
    pub fn of(&self, probe: &Probe) -> Affine<N> {
        let mut sum = Affine { muscle: probe.muscle, ..Affine::constant(probe.offset) };
        for &(node, weight) in &probe.pressures {
            sum.add(&self.pressures[node], weight);
        }
        for &(path, weight) in &probe.flows {
            let through = self.conductances[path] * weight;
            let path = &self.network.paths[path];
            sum.add(&pressure_at(self.network, self.pressures, path.from), through);
            sum.add(&pressure_at(self.network, self.pressures, path.to), -through);
        }
        for &(node, weight) in &probe.volumes {
            let Some(store) = &self.network.nodes[node].store else { continue };
            let taken_up = weight / self.elastances[node];
            sum.add(&self.pressures[node], taken_up);
            if let Some(parent) = store.parent {
                sum.add(&self.pressures[parent], -taken_up);
            }
            if store.moved {
                sum.offset -= taken_up * self.network.pressed_by;
                sum.muscle += taken_up;
            }
        }
        sum
    }
}

fn pressure_at<const N: usize>(
    network: &Network,
    pressures: &[Affine<N>; N],
    end: End,
) -> Affine<N> {
    match end.as_node() {
        Some(node) => pressures[node],
        None => Affine::constant(network.boundary_pressure(end)),
    }
}

/// Constant flow into each storing node: sources, and boundaries at pressure.
pub(crate) fn inputs<const N: usize>(
    network: &Network,
    reduced: &Reduced<N>,
    modes: &Modes<N>,
) -> [f64; N] {
    let mut by_node = [0.0; N];
    for &node in &modes.storing[..modes.n()] {
        by_node[node] = reduced.sources[node] + reduced.boundary_inflow(network, node);
    }
    let mut inputs = [0.0; N];
    modes.coordinates(&by_node, &mut inputs);
    inputs
}
