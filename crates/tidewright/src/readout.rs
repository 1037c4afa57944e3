//! A signal as an affine function of modal coordinates: what a probe becomes
//! once a network is linear, or linearised.

use crate::modes::Modes;
use crate::network::{End, MAX_NODES, Network, NodeVec, Reduced};
use crate::signal::Probe;

/// offset + Σ weight·y + muscle·(muscle pressure).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Affine {
    pub offset: f64,
    pub weights: NodeVec,
    pub muscle: f64,
}

impl Affine {
    pub fn at(&self, n: usize, y: &NodeVec, muscle: f64) -> f64 {
        self.offset + self.dot(n, y) + self.muscle * muscle
    }

    /// The part that depends on the modes.
    pub fn dot(&self, n: usize, y: &NodeVec) -> f64 {
        let mut sum = 0.0;
        for k in 0..n.min(MAX_NODES) {
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
pub(crate) struct Readout<'a> {
    network: &'a Network,
    conductances: &'a [f64],
    elastances: &'a NodeVec,
    pressures: [Affine; MAX_NODES],
}

impl<'a> Readout<'a> {
    pub fn new(
        network: &'a Network,
        reduced: &Reduced,
        modes: &Modes,
        conductances: &'a [f64],
        elastances: &'a NodeVec,
    ) -> Self {
        let mut pressures = [Affine::default(); MAX_NODES];
        for i in 0..modes.n() {
            pressures[modes.storing[i]].weights = modes.pressure[i];
        }
        reduced.back_substitute(network.nodes.len(), |node, offset, arms| {
            let mut sum = Affine { offset, ..Affine::default() };
            for &(end, weight) in arms {
                sum.add(&pressure_at(network, &pressures, end), weight);
            }
            pressures[node] = sum;
        });
        Self { network, conductances, elastances, pressures }
    }

    pub fn of(&self, probe: &Probe) -> Affine {
        let mut sum = Affine { offset: probe.offset, muscle: probe.muscle, ..Affine::default() };
        for &(node, weight) in &probe.pressures {
            sum.add(&self.pressures[node], weight);
        }
        for &(path, weight) in &probe.flows {
            let through = self.conductances[path] * weight;
            let path = &self.network.paths[path];
            sum.add(&pressure_at(self.network, &self.pressures, path.from), through);
            sum.add(&pressure_at(self.network, &self.pressures, path.to), -through);
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

fn pressure_at(network: &Network, pressures: &[Affine; MAX_NODES], end: End) -> Affine {
    match end.as_node() {
        Some(node) => pressures[node],
        None => Affine { offset: network.boundary_pressure(end), ..Affine::default() },
    }
}

/// Constant flow into each storing node: sources, and boundaries at pressure.
pub(crate) fn inputs(network: &Network, reduced: &Reduced, modes: &Modes) -> NodeVec {
    let mut by_node = [0.0; MAX_NODES];
    for &node in &modes.storing[..modes.n()] {
        by_node[node] = reduced.sources[node] + reduced.boundary_inflow(network, node);
    }
    modes.coordinates(&by_node)
}
