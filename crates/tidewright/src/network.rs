//! The plant as a network: nodes that store gas, paths that conduct it,
//! boundaries held at a pressure, sources that push a constant flow.
//!
//! Every element of the equipment and of the patient is one of these, so a new
//! element costs one line here and nothing in the solver.
//!
//! A node without compliance (a rigid circuit, a branching airway) holds no gas:
//! what flows in flows out at once. Such nodes are eliminated exactly by the
//! star-mesh transform: a node whose paths have conductances gᵢ is replaced by
//! paths gᵢ·gⱼ/Σg between its neighbours. Only sums, products and quotients of
//! positive numbers occur, so nothing cancels however unequal the paths are.

/// What a path or a compliance is tied to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum End {
    /// A node, by its number.
    Node(usize),
    /// A boundary, by its number.
    Boundary(usize),
}

/// A path that conducts gas in proportion to the pressure across it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Path {
    pub from: End,
    pub to: End,
    /// mL/s for each cmH2O; 0 is a shut path.
    pub conductance: f64,
}

/// Gas taken up between a node and another end, for each unit of pressure.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Store {
    pub node: usize,
    pub against: End,
    /// mL/cmH2O; 0 stores nothing.
    pub compliance: f64,
}

/// A network as described, before anything is solved.
#[derive(Clone, Debug, Default)]
pub(crate) struct Network {
    /// Number of nodes.
    pub nodes: usize,
    /// Pressure of each boundary, cmH2O.
    pub boundaries: Vec<f64>,
    pub paths: Vec<Path>,
    pub stores: Vec<Store>,
    /// Constant flow into each node, mL/s.
    pub sources: Vec<f64>,
}

/// A pressure as an affine function of the pressures of the storing nodes.
#[derive(Clone, Debug, Default)]
pub(crate) struct NodePressure {
    pub offset: f64,
    /// (node, weight); the nodes all store gas.
    pub weights: Vec<(usize, f64)>,
}

/// A network in which every remaining node stores gas.
#[derive(Clone, Debug)]
pub(crate) struct Reduced {
    /// The storing nodes, by their number in the network.
    pub storing: Vec<usize>,
    /// Paths between storing nodes and boundaries.
    pub paths: Vec<Path>,
    /// Constant flow into each node of the network, after elimination.
    pub sources: Vec<f64>,
    /// The pressure of every node of the network.
    pub pressures: Vec<NodePressure>,
}

/// An eliminated node: its pressure is the offset plus the weighted pressures of
/// what its arms led to.
struct Eliminated {
    node: usize,
    offset: f64,
    arms: Vec<(End, f64)>,
}

/// A node takes in gas, stores none and has no way out: its pressure has no value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct NowhereToGo;

impl Network {
    /// Eliminates every node that stores no gas.
    pub fn reduce(&self) -> Result<Reduced, NowhereToGo> {
        let mut stores_gas = vec![false; self.nodes];
        for store in self.stores.iter().filter(|store| store.compliance > 0.0) {
            stores_gas[store.node] = true;
            if let End::Node(other) = store.against {
                stores_gas[other] = true;
            }
        }
        let mut paths: Vec<Path> =
            self.paths.iter().filter(|path| path.conductance > 0.0).copied().collect();
        let mut sources = self.sources.clone();
        let mut eliminated = Vec::new();
        for node in (0..self.nodes).filter(|&node| !stores_gas[node]) {
            let arms = take_arms(&mut paths, node);
            let total: f64 = arms.iter().map(|arm| arm.1).sum();
            let inflow = sources[node];
            sources[node] = 0.0;
            if total <= 0.0 {
                if inflow != 0.0 {
                    return Err(NowhereToGo);
                }
                eliminated.push(Eliminated { node, offset: 0.0, arms });
                continue;
            }
            for (i, &(from, g)) in arms.iter().enumerate() {
                if let End::Node(neighbour) = from {
                    sources[neighbour] += inflow * (g / total);
                }
                for &(to, other) in &arms[i + 1..] {
                    let conductance = g * (other / total);
                    paths.push(Path { from, to, conductance });
                }
            }
            let arms = arms.iter().map(|&(end, g)| (end, g / total)).collect();
            let offset = inflow / total;
            eliminated.push(Eliminated { node, offset, arms });
        }
        Ok(Reduced {
            storing: (0..self.nodes).filter(|&node| stores_gas[node]).collect(),
            pressures: self.back_substitute(&stores_gas, eliminated),
            paths,
            sources,
        })
    }

    fn back_substitute(
        &self,
        stores_gas: &[bool],
        eliminated: Vec<Eliminated>,
    ) -> Vec<NodePressure> {
        let mut pressures: Vec<NodePressure> = (0..self.nodes)
            .map(|node| NodePressure {
                offset: 0.0,
                weights: if stores_gas[node] { vec![(node, 1.0)] } else { vec![] },
            })
            .collect();
        for Eliminated { node, offset, arms } in eliminated.into_iter().rev() {
            let mut sum = NodePressure { offset, weights: vec![] };
            for (end, weight) in arms {
                match end {
                    End::Boundary(b) => sum.offset += weight * self.boundaries[b],
                    End::Node(other) => sum.add(&pressures[other], weight),
                }
            }
            pressures[node] = sum;
        }
        pressures
    }
}

impl NodePressure {
    fn add(&mut self, other: &Self, factor: f64) {
        self.offset += factor * other.offset;
        for &(node, weight) in &other.weights {
            match self.weights.iter_mut().find(|known| known.0 == node) {
                Some(known) => known.1 += factor * weight,
                None => self.weights.push((node, factor * weight)),
            }
        }
    }
}

/// Removes the paths at `node` and returns its arms, parallel ones joined.
fn take_arms(paths: &mut Vec<Path>, node: usize) -> Vec<(End, f64)> {
    let here = End::Node(node);
    let mut arms: Vec<(End, f64)> = Vec::new();
    paths.retain(|path| {
        let other = match (path.from == here, path.to == here) {
            (true, false) => path.to,
            (false, true) => path.from,
            (true, true) => return false,
            (false, false) => return true,
        };
        match arms.iter_mut().find(|arm| arm.0 == other) {
            Some(arm) => arm.1 += path.conductance,
            None => arms.push((other, path.conductance)),
        }
        false
    });
    arms
}
