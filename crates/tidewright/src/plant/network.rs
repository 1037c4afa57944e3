//! The plant as a network: nodes, stores that take up gas, paths that conduct
//! it, boundaries held at a pressure, sources that push a constant flow.
//!
//! Every element of the equipment and of the patient is one of these, so a new
//! element costs a line in the plan and nothing in the solvers.
//!
//! Stores form a tree: a node has at most one store, toward its parent node or
//! the room. A lung compartment's store stands against the pleural space, the
//! chest wall's against the room. Muscle pressure acts in series inside the
//! stores that it moves.
//!
//! A node without a store (a rigid circuit, a branching airway) holds no gas:
//! what flows in flows out at once. Such nodes are eliminated exactly by the
//! star-mesh transform: a node whose paths have conductances gᵢ is replaced by
//! paths gᵢ·gⱼ/Σg between its neighbours. Only sums, products and quotients of
//! positive numbers occur, so nothing cancels however unequal the paths are.

use crate::laws::law::{PathLaw, StoreLaw};

/// The most nodes a network may have.
pub const MAX_NODES: usize = 12;

/// One number for each place that may hold gas, or for each node or mode of a
/// network of any size; the unused tail is zero. Where speed asks for it, the
/// code is written for vectors of N numbers, N being at least what is used.
pub(crate) type NodeVec = [f64; MAX_NODES];

/// What a path leads to: nodes first, boundaries behind them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct End(usize);

/// The room, at zero pressure.
pub(crate) const ROOM: End = End(MAX_NODES);
/// Behind the end-expiratory pressure device.
pub(crate) const OUTLET: End = End(MAX_NODES + 1);
const ENDS: usize = MAX_NODES + 2;

/// The most paths a network may have.
pub(crate) const MAX_PATHS: usize = 24;

impl End {
    pub const fn node(node: usize) -> Self {
        assert!(node < MAX_NODES);
        Self(node)
    }
}

/// A path that conducts gas.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Path {
    pub from: End,
    pub to: End,
    pub law: PathLaw,
}

/// Gas taken up between a node and its parent (the room if it has none).
#[derive(Clone, Debug)]
pub(crate) struct Store {
    pub law: StoreLaw,
    pub parent: Option<usize>,
    /// Whether the patient's muscles move it.
    pub moved: bool,
}

#[derive(Clone, Debug, Default)]
pub(crate) struct Node {
    pub store: Option<Store>,
    /// Constant flow into the node, mL/s.
    pub source: f64,
}

/// A network as described, before anything is solved.
#[derive(Clone, Debug, Default)]
pub(crate) struct Network {
    pub nodes: Vec<Node>,
    pub paths: Vec<Path>,
    /// Pressure at [`OUTLET`], cmH2O.
    pub outlet_pressure: f64,
    /// Constant pressure that presses on the moved stores from outside, cmH2O.
    pub pressed_by: f64,
}

/// A node takes in gas, stores none and has no way out: its pressure has no value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct NowhereToGo;

/// A linear network of at most N nodes from which those without a store are
/// eliminated.
#[derive(Clone, Debug)]
pub(crate) struct Reduced<const N: usize> {
    /// Conductance between any two nodes, and from each to the boundaries.
    between: [[f64; N]; N],
    to_room: [f64; N],
    to_outlet: [f64; N],
    /// Flow into each node, the eliminated nodes' share included.
    pub sources: [f64; N],
    /// The eliminated nodes in order, each with the sum of its conductances.
    eliminated: [Eliminated; N],
    gone: usize,
}

#[derive(Clone, Copy, Debug, Default)]
struct Eliminated {
    node: usize,
    total: f64,
    inflow: f64,
}

/// Conductance given to a node that has no way out, where a linearisation must
/// go on (a valve that is shut at this pressure opens at a higher one).
pub(crate) const LAST_RESORT: f64 = 1e-9;

impl Network {
    pub fn boundary_pressure(&self, end: End) -> f64 {
        if end == OUTLET { self.outlet_pressure } else { 0.0 }
    }

    pub fn stores_gas(&self, node: usize) -> bool {
        self.nodes[node].store.is_some()
    }

    /// The nodes that hold no gas.
    pub fn rigid(&self) -> impl Iterator<Item = usize> {
        let rigid = |(_, node): &(usize, &Node)| node.store.is_none();
        self.nodes.iter().enumerate().filter(rigid).map(|(i, _)| i)
    }

    /// The conductance of every path, if all are linear and so are the stores.
    pub fn linear_conductances(&self) -> Option<Vec<f64>> {
        let stores = self.nodes.iter().filter_map(|node| node.store.as_ref());
        if stores.into_iter().any(|store| store.law.linear().is_none()) {
            return None;
        }
        self.paths.iter().map(|path| path.law.linear()).collect()
    }

    /// Eliminates the nodes without a store, with the given conductances and
    /// the sources of the description.
    pub fn reduce(&self, conductances: &[f64]) -> Result<Reduced<MAX_NODES>, NowhereToGo> {
        let mut sources = [0.0; MAX_NODES];
        for (source, node) in sources.iter_mut().zip(&self.nodes) {
            *source = node.source;
        }
        let reduced = self.reduce_with(conductances, sources);
        let stuck = |gone: &Eliminated| gone.total <= LAST_RESORT && gone.inflow != 0.0;
        if reduced.eliminated[..reduced.gone].iter().any(stuck) {
            return Err(NowhereToGo);
        }
        Ok(reduced)
    }

    /// As [`Network::reduce`] with other sources, and never stuck.
    pub fn reduce_with<const N: usize>(
        &self,
        conductances: &[f64],
        sources: [f64; N],
    ) -> Reduced<N> {
        let mut reduced = Reduced {
            between: [[0.0; N]; N],
            to_room: [0.0; N],
            to_outlet: [0.0; N],
            sources,
            eliminated: [Eliminated::default(); N],
            gone: 0,
        };
        for (path, &g) in self.paths.iter().zip(conductances) {
            reduced.add(path.from, path.to, g);
            reduced.add(path.to, path.from, g);
        }
        for node in self.rigid() {
            reduced.eliminate(node, self.nodes.len());
        }
        reduced
    }
}

impl<const N: usize> Reduced<N> {
    fn add(&mut self, from: End, to: End, g: f64) {
        let Some(node) = from.as_node() else { return };
        match to {
            ROOM => self.to_room[node] += g,
            OUTLET => self.to_outlet[node] += g,
            End(other) => self.between[node][other] += g,
        }
    }

    /// Conductance between two storing nodes.
    pub fn between(&self, i: usize, j: usize) -> f64 {
        self.between[i][j]
    }

    /// Conductance from a storing node to all boundaries together.
    pub fn to_boundaries(&self, node: usize) -> f64 {
        self.to_room[node] + self.to_outlet[node]
    }

    /// Flow into a storing node from the boundaries when its own pressure is zero.
    pub fn boundary_inflow(&self, network: &Network, node: usize) -> f64 {
        self.to_outlet[node] * network.outlet_pressure
    }

    /// Visits the eliminated nodes, last gone first: the node, its own offset, and
    /// the ends whose pressures it takes a weighted share of. Numbers and affine
    /// forms alike are put together this way.
    pub fn back_substitute(&self, nodes: usize, mut visit: impl FnMut(usize, f64, &[(End, f64)])) {
        for gone in self.eliminated[..self.gone].iter().rev() {
            let mut arms = [(ROOM, 0.0); ENDS];
            let mut count = 0;
            // A row keeps what its node was tied to when it went.
            let tied = (0..nodes).map(|i| (End(i), self.between[gone.node][i]));
            let out = [(ROOM, self.to_room[gone.node]), (OUTLET, self.to_outlet[gone.node])];
            for (end, g) in tied.chain(out) {
                if g > 0.0 {
                    arms[count] = (end, g / gone.total);
                    count += 1;
                }
            }
            visit(gone.node, gone.inflow / gone.total, &arms[..count]);
        }
    }

    fn eliminate(&mut self, node: usize, nodes: usize) {
        let row = self.between[node];
        let (to_room, to_outlet) = (self.to_room[node], self.to_outlet[node]);
        let total = (row.iter().sum::<f64>() + to_room + to_outlet).max(LAST_RESORT);
        let inflow = std::mem::take(&mut self.sources[node]);
        self.eliminated[self.gone] = Eliminated { node, total, inflow };
        self.gone += 1;
        for i in 0..nodes {
            if row[i] == 0.0 {
                continue;
            }
            let share = row[i] / total;
            self.sources[i] += inflow * share;
            for j in (0..nodes).filter(|&j| j != i) {
                self.between[i][j] += share * row[j];
            }
            self.to_room[i] += share * to_room;
            self.to_outlet[i] += share * to_outlet;
            self.between[i][node] = 0.0;
        }
    }
}

impl End {
    /// The node's number, or `None` for a boundary.
    pub fn as_node(self) -> Option<usize> {
        (self.0 < MAX_NODES).then_some(self.0)
    }
}
