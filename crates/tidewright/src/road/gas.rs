//! The state of a network that need not be linear: pressures, flows and their
//! slopes, from the gas stored at its nodes.

use crate::plant::network::{End, LAST_RESORT};
use crate::plant::plan::Plan;
use crate::plant::signal::Probe;

/// Newton's method needs no more rounds where it is not thrown about between kinks.
const FEW_ROUNDS: u32 = 12;

/// Everything that follows from the stored gas and the muscle pressure, in a
/// network of at most N nodes and P paths.
#[derive(Clone, Debug)]
pub(crate) struct Gas<const N: usize, const P: usize> {
    pub muscle: f64,
    pub pressures: [f64; N],
    pub volumes: [f64; N],
    pub elastances: [f64; N],
    pub flows: [f64; P],
    pub conductances: [f64; P],
    /// Net flow into each node; zero at nodes without a store.
    pub inflows: [f64; N],
    /// How often the flows were worked out until the nodes without a store were settled.
    pub rounds: u32,
}

/// Rates of change of a [`Gas`], /s.
pub(crate) struct Paces<const N: usize, const P: usize> {
    pub pressures: [f64; N],
    pub flows: [f64; P],
    pub volumes: [f64; N],
}

impl<const N: usize, const P: usize> Gas<N, P> {
    pub fn new(plan: &Plan, stored: &[f64; N], muscle: f64) -> Self {
        let mut gas = Self::none();
        gas.set(plan, stored, muscle, None);
        gas
    }

    /// What [`Gas::set`] fills in.
    #[inline]
    pub fn none() -> Self {
        Self {
            muscle: 0.0,
            pressures: [0.0; N],
            volumes: [0.0; N],
            elastances: [0.0; N],
            flows: [0.0; P],
            conductances: [0.0; P],
            inflows: [0.0; N],
            rounds: 0,
        }
    }

    /// The same place for another state. Where the nodes without a store were hard to
    /// settle in a state `near` this one, that is where they start from.
    #[inline]
    pub fn set(&mut self, plan: &Plan, stored: &[f64; N], muscle: f64, near: Option<&Self>) {
        let network = &plan.network;
        self.muscle = muscle;
        self.volumes = *stored;
        // Parents have lower numbers than what stands against them.
        for (i, node) in network.nodes.iter().enumerate().rev() {
            if let Some(parent) = node.store.as_ref().and_then(|store| store.parent) {
                self.volumes[parent] += self.volumes[i];
            }
        }
        let wall = network.pressed_by - muscle;
        for (i, node) in network.nodes.iter().enumerate() {
            let Some(store) = &node.store else { continue };
            let (pressure, elastance) = store.law.pressure(self.volumes[i]);
            self.elastances[i] = elastance;
            self.pressures[i] = pressure
                + store.parent.map_or(0.0, |parent| self.pressures[parent])
                + if store.moved { wall } else { 0.0 };
        }
        self.rounds = 0;
        if plan.rigid.is_empty() {
            self.flow(plan);
            return;
        }
        match near.filter(|near| near.rounds > FEW_ROUNDS) {
            Some(near) => {
                for &node in &plan.rigid {
                    self.pressures[node] = near.pressures[node];
                }
            }
            None => self.guess_rigid(plan),
        }
        self.flow(plan);
        self.settle_rigid(plan);
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
        for &node in &plan.rigid {
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
        self.rounds += 1;
        let network = &plan.network;
        self.inflows = [0.0; N];
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
    /// all they take in. Flows rise with pressure, so there is one answer and the
    /// matrix is symmetric and positive; a step that goes too far past a kink is
    /// shortened to where it gains no more.
    fn settle_rigid(&mut self, plan: &Plan) {
        for _ in 0..60 {
            let (imbalance, throughput) = (self.imbalance(plan), self.throughput(plan));
            let rounding = self.rounding(plan);
            if imbalance <= (1e-15 * throughput).max(rounding) {
                break;
            }
            let near = imbalance <= (1e-9 * throughput).max(1e3 * rounding);
            let moves = self.solve_rigid(plan, &self.inflows);
            let before = self.pressures;
            // Flows rise with pressure, so Σ move·inflow falls along the way and is
            // zero at the best share of it. The imbalance itself may grow past a kink.
            let from = self.gain(plan, &moves);
            let (mut low, mut high, mut share) = (0.0, 1.0, 1.0);
            for _ in 0..50 {
                for (&node, by) in plan.rigid.iter().zip(&moves) {
                    self.pressures[node] = before[node] + share * by;
                }
                self.flow(plan);
                // Near the answer only rounding is left to improve on.
                if share == 1.0 && near && self.imbalance(plan) >= imbalance {
                    break;
                }
                let gain = self.gain(plan, &moves);
                if gain.abs() <= 0.1 * from || (share == 1.0 && gain > 0.0) {
                    break;
                }
                if gain > 0.0 {
                    low = share;
                } else {
                    high = share;
                }
                share = 0.5 * (low + high);
            }
            if near && self.imbalance(plan) >= imbalance {
                self.pressures = before;
                self.flow(plan);
                break;
            }
        }
        for &node in &plan.rigid {
            self.inflows[node] = 0.0;
        }
    }

    /// Σ move·inflow over the nodes without a store.
    fn gain(&self, plan: &Plan, moves: &[f64; N]) -> f64 {
        plan.rigid.iter().zip(moves).map(|(&node, by)| by * self.inflows[node]).sum()
    }

    /// Solves (conductances between and out of the rigid nodes)·x = inflows, which
    /// are given for each node, by elimination; the matrix is a handful of rows.
    fn solve_rigid(&self, plan: &Plan, inflows: &[f64; N]) -> [f64; N] {
        let rigid = &plan.rigid;
        let n = rigid.len();
        let row = |end: End| end.as_node().and_then(|node| rigid.iter().position(|&r| r == node));
        let mut matrix = [[0.0; N]; N];
        for (path, &g) in plan.network.paths.iter().zip(&self.conductances) {
            let (a, b) = (row(path.from), row(path.to));
            for end in [a, b].into_iter().flatten() {
                matrix[end][end] += g;
            }
            if let (Some(a), Some(b)) = (a, b) {
                matrix[a][b] -= g;
                matrix[b][a] -= g;
            }
        }
        let mut solution = [0.0; N];
        for i in 0..n {
            solution[i] = inflows[rigid[i]];
            matrix[i][i] = matrix[i][i].max(LAST_RESORT);
        }
        for i in 0..n {
            for j in i + 1..n {
                let factor = matrix[j][i] / matrix[i][i];
                for k in i..n {
                    matrix[j][k] -= factor * matrix[i][k];
                }
                solution[j] -= factor * solution[i];
            }
        }
        for i in (0..n).rev() {
            for k in i + 1..n {
                solution[i] -= matrix[i][k] * solution[k];
            }
            solution[i] /= matrix[i][i].max(LAST_RESORT);
        }
        solution
    }

    /// Rates of change of everything, given that of the muscle pressure.
    pub fn paces(&self, plan: &Plan, muscle_pace: f64) -> Paces<N, P> {
        let network = &plan.network;
        let (mut pressures, mut flows) = ([0.0; N], [0.0; P]);
        let mut volumes = self.inflows;
        for (i, node) in network.nodes.iter().enumerate().rev() {
            if let Some(parent) = node.store.as_ref().and_then(|store| store.parent) {
                volumes[parent] += volumes[i];
            }
        }
        for (i, node) in network.nodes.iter().enumerate() {
            let Some(store) = &node.store else { continue };
            pressures[i] = self.elastances[i] * volumes[i]
                + store.parent.map_or(0.0, |parent| pressures[parent])
                - if store.moved { muscle_pace } else { 0.0 };
        }
        let across = |pressures: &[f64; N], from: End, to: End| {
            let at = |end: End| end.as_node().map_or(0.0, |node| pressures[node]);
            at(from) - at(to)
        };
        if !plan.rigid.is_empty() {
            // They follow so that as much flows out as in at any time.
            let mut inflows = [0.0; N];
            for (path, g) in network.paths.iter().zip(self.conductances) {
                let flow = g * across(&pressures, path.from, path.to);
                if let Some(from) = path.from.as_node() {
                    inflows[from] -= flow;
                }
                if let Some(to) = path.to.as_node() {
                    inflows[to] += flow;
                }
            }
            let solved = self.solve_rigid(plan, &inflows);
            for (&node, pace) in plan.rigid.iter().zip(solved) {
                pressures[node] = pace;
            }
        }
        for (i, path) in network.paths.iter().enumerate() {
            flows[i] = self.conductances[i] * across(&pressures, path.from, path.to);
        }
        Paces { pressures, flows, volumes }
    }

    fn imbalance(&self, plan: &Plan) -> f64 {
        plan.rigid.iter().map(|&node| self.inflows[node].abs()).sum()
    }

    fn throughput(&self, plan: &Plan) -> f64 {
        self.flows[..plan.network.paths.len()].iter().map(|flow| flow.abs()).sum()
    }

    /// What the last bits of the pressures make of the flows: no balance is closer.
    fn rounding(&self, plan: &Plan) -> f64 {
        let bits = |end: End| match end.as_node() {
            Some(node) => self.pressures[node].abs(),
            None => 0.0,
        };
        let paths = plan.network.paths.iter().zip(&self.conductances);
        let sum: f64 = paths.map(|(path, g)| g * (bits(path.from) + bits(path.to))).sum();
        0.25 * f64::EPSILON * sum
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
