//! The state of a network that need not be linear: pressures, flows and their
//! slopes, from the gas stored at its nodes.

use crate::network::{End, MAX_NODES, NodeVec};
use crate::plan::Plan;
use crate::signal::Probe;

/// The most paths a network may have.
pub(crate) const MAX_PATHS: usize = 32;

/// Everything that follows from the stored gas and the muscle pressure.
#[derive(Clone, Debug)]
pub(crate) struct Gas {
    pub muscle: f64,
    pub pressures: NodeVec,
    pub volumes: NodeVec,
    pub elastances: NodeVec,
    pub flows: [f64; MAX_PATHS],
    pub conductances: [f64; MAX_PATHS],
    /// Net flow into each node; zero at nodes without a store.
    pub inflows: NodeVec,
}

impl Gas {
    pub fn new(plan: &Plan, stored: &NodeVec, muscle: f64) -> Self {
        let network = &plan.network;
        let mut gas = Self {
            muscle,
            pressures: [0.0; MAX_NODES],
            volumes: *stored,
            elastances: [0.0; MAX_NODES],
            flows: [0.0; MAX_PATHS],
            conductances: [0.0; MAX_PATHS],
            inflows: [0.0; MAX_NODES],
        };
        // Parents have lower numbers than what stands against them.
        for (i, node) in network.nodes.iter().enumerate().rev() {
            if let Some(parent) = node.store.as_ref().and_then(|store| store.parent) {
                gas.volumes[parent] += gas.volumes[i];
            }
        }
        let wall = network.pressed_by - muscle;
        for (i, node) in network.nodes.iter().enumerate() {
            let Some(store) = &node.store else { continue };
            let (pressure, elastance) = store.law.pressure(gas.volumes[i]);
            gas.elastances[i] = elastance;
            gas.pressures[i] = pressure
                + store.parent.map_or(0.0, |parent| gas.pressures[parent])
                + if store.moved { wall } else { 0.0 };
        }
        gas.guess_rigid(plan);
        gas.flow(plan);
        gas.settle_rigid(plan);
        gas
    }

    pub fn read(&self, probe: &Probe) -> f64 {
        let mut sum = probe.offset + probe.muscle * self.muscle;
        for &(node, weight) in &probe.pressures {
            sum += weight * self.pressures[node];
        }
        for &(path, weight) in &probe.flows {
            sum += weight * self.flows[path];
        }
        for &(node, weight) in &probe.volumes {
            sum += weight * self.volumes[node];
        }
        sum
    }

    /// Nodes without a store start at the pressure of a neighbour.
    fn guess_rigid(&mut self, plan: &Plan) {
        let network = &plan.network;
        for node in network.rigid() {
            let here = End::node(node);
            let neighbour = network.paths.iter().find_map(|path| match () {
                () if path.from == here => path.to.as_node().filter(|&n| network.stores_gas(n)),
                () if path.to == here => path.from.as_node().filter(|&n| network.stores_gas(n)),
                () => None,
            });
            self.pressures[node] = neighbour.map_or(0.0, |n| self.pressures[n]);
        }
    }

    fn flow(&mut self, plan: &Plan) {
        let network = &plan.network;
        self.inflows = [0.0; MAX_NODES];
        for (inflow, node) in self.inflows.iter_mut().zip(&network.nodes) {
            *inflow = node.source;
        }
        for (i, path) in network.paths.iter().enumerate() {
            let across = self.pressure_at(plan, path.from) - self.pressure_at(plan, path.to);
            (self.flows[i], self.conductances[i]) = path.law.flow(across);
            if let Some(from) = path.from.as_node() {
                self.inflows[from] -= self.flows[i];
            }
            if let Some(to) = path.to.as_node() {
                self.inflows[to] += self.flows[i];
            }
        }
    }

    /// Newton's method for the pressures at which nodes without a store pass on
    /// all they take in. Flows rise with pressure, so the linearised network has
    /// one answer; steps are halved while they make the imbalance worse.
    fn settle_rigid(&mut self, plan: &Plan) {
        let network = &plan.network;
        if network.rigid().next().is_none() {
            return;
        }
        let throughput = 1e-3 + network.nodes.iter().map(|node| node.source.abs()).sum::<f64>();
        for _ in 0..100 {
            let imbalance = self.imbalance(plan);
            if imbalance <= 1e-14 * throughput {
                break;
            }
            let paths = network.paths.len();
            let mut sources = [0.0; MAX_NODES];
            for node in network.rigid() {
                sources[node] = self.inflows[node];
            }
            let reduced = network.reduce_with(&self.conductances[..paths], sources);
            let mut moves = [0.0; MAX_NODES];
            reduced.back_substitute(network.nodes.len(), |node, offset, arms| {
                let from_others = |&(end, weight): &(End, f64)| {
                    end.as_node().map_or(0.0, |other| weight * moves[other])
                };
                moves[node] = offset + arms.iter().map(from_others).sum::<f64>();
            });
            let before = self.pressures;
            let mut share = 1.0;
            loop {
                for node in network.rigid() {
                    self.pressures[node] = before[node] + share * moves[node];
                }
                self.flow(plan);
                if self.imbalance(plan) < imbalance || share < 1e-6 {
                    break;
                }
                share *= 0.5;
            }
            if share < 1e-6 {
                // No step improves on rounding any more.
                break;
            }
        }
        for node in network.rigid() {
            self.inflows[node] = 0.0;
        }
    }

    fn imbalance(&self, plan: &Plan) -> f64 {
        plan.network.rigid().map(|node| self.inflows[node].abs()).sum()
    }

    /// Pressure across a path.
    pub fn across(&self, plan: &Plan, path: usize) -> f64 {
        let path = &plan.network.paths[path];
        self.pressure_at(plan, path.from) - self.pressure_at(plan, path.to)
    }

    fn pressure_at(&self, plan: &Plan, end: End) -> f64 {
        match end.as_node() {
            Some(node) => self.pressures[node],
            None => plan.network.boundary_pressure(end),
        }
    }
}
