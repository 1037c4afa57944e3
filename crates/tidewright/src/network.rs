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

use crate::law::{PathLaw, StoreLaw};

/// The most nodes a network may have.
pub const MAX_NODES: usize = 12;

/// One number for each node (or mode); the unused tail is zero.
pub(crate) type NodeVec = [f64; MAX_NODES];

/// What a path leads to: nodes first, boundaries behind them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct End(usize);

/// The room, at zero pressure.
pub(crate) const ROOM: End = End(MAX_NODES);
/// Behind the end-expiratory pressure device.
pub(crate) const OUTLET: End = End(MAX_NODES + 1);
const ENDS: usize = MAX_NODES + 2;

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
    /// Whether the network has this node at all: nodes keep their numbers from
    /// one setup to the next, so some numbers are free.
    pub used: bool,
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

/// A linear network from which the nodes without a store are eliminated.
#[derive(Clone, Debug)]
pub(crate) struct Reduced {
    /// Conductance between any two ends.
    between: [[f64; ENDS]; ENDS],
    /// Flow into each node, the eliminated nodes' share included.
    pub sources: NodeVec,
    /// The eliminated nodes in order, each with the sum of its conductances.
    eliminated: Vec<Eliminated>,
}

#[derive(Clone, Copy, Debug)]
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
        let rigid = |(_, node): &(usize, &Node)| node.used && node.store.is_none();
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
    pub fn reduce(&self, conductances: &[f64]) -> Result<Reduced, NowhereToGo> {
        let mut sources = [0.0; MAX_NODES];
        for (source, node) in sources.iter_mut().zip(&self.nodes) {
            *source = node.source;
        }
        let reduced = self.reduce_with(conductances, sources);
        let stuck = |gone: &&Eliminated| gone.total <= LAST_RESORT && gone.inflow != 0.0;
        if reduced.eliminated.iter().any(|gone| stuck(&gone)) {
            return Err(NowhereToGo);
        }
        Ok(reduced)
    }

    /// As [`Network::reduce`] with other sources, and never stuck.
    pub fn reduce_with(&self, conductances: &[f64], sources: NodeVec) -> Reduced {
        let mut reduced = Reduced { between: [[0.0; ENDS]; ENDS], sources, eliminated: Vec::new() };
        for (path, &g) in self.paths.iter().zip(conductances) {
            reduced.between[path.from.0][path.to.0] += g;
            reduced.between[path.to.0][path.from.0] += g;
        }
        for node in self.rigid() {
            reduced.eliminate(node);
        }
        reduced
    }
}

impl Reduced {
    /// Conductance between two storing nodes.
    pub fn between(&self, i: usize, j: usize) -> f64 {
        self.between[i][j]
    }

    /// Conductance from a storing node to all boundaries together.
    pub fn to_boundaries(&self, node: usize) -> f64 {
        self.between[node][ROOM.0] + self.between[node][OUTLET.0]
    }

    /// Flow into a storing node from the boundaries when its own pressure is zero.
    pub fn boundary_inflow(&self, network: &Network, node: usize) -> f64 {
        self.between[node][OUTLET.0] * network.outlet_pressure
    }

    /// Visits the eliminated nodes, last gone first: the node, its own offset, and
    /// the ends whose pressures it takes a weighted share of. Numbers and affine
    /// forms alike are put together this way.
    pub fn back_substitute(&self, nodes: usize, mut visit: impl FnMut(usize, f64, &[(End, f64)])) {
        let mut arms = [(ROOM, 0.0); ENDS];
        for gone in self.eliminated.iter().rev() {
            let mut count = 0;
            for end in (0..nodes).chain([ROOM.0, OUTLET.0]) {
                // A row keeps what its node was tied to when it went.
                let g = self.between[gone.node][end];
                if g > 0.0 {
                    arms[count] = (End(end), g / gone.total);
                    count += 1;
                }
            }
            visit(gone.node, gone.inflow / gone.total, &arms[..count]);
        }
    }

    fn eliminate(&mut self, node: usize) {
        let row = self.between[node];
        let total = row.iter().sum::<f64>().max(LAST_RESORT);
        let inflow = std::mem::take(&mut self.sources[node]);
        self.eliminated.push(Eliminated { node, total, inflow });
        for i in 0..ENDS {
            if row[i] == 0.0 {
                continue;
            }
            let share = row[i] / total;
            if i < MAX_NODES {
                self.sources[i] += inflow * share;
            }
            for j in 0..ENDS {
                if i != j {
                    self.between[i][j] += share * row[j];
                }
            }
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
