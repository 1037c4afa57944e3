//! A linear network split into independent modes.
//!
//! Let q be the gas stored at the nodes, v the gas in each store, p the
//! pressures and E the elastances. The stores form a tree, so v = N·q with N a
//! matrix of ones for "belongs to the subtree of", and p = Nᵀ·E·v = F·Fᵀ·q with
//! F = Nᵀ·√E. Let L = A·G·Aᵀ be the conductance matrix (incidence,
//! conductances): q′ = −L·p + b. The factor B = Fᵀ·A·√G has the singular values
//! √λ; one-sided Jacobi rotations U make its rows orthogonal. With T = F·U:
//!
//! p = T·z, z = Tᵀ·q, z′ = −λ·z + Tᵀ·b.
//!
//! Working on the factor B instead of on L keeps slow rates accurate beside fast
//! ones, can never give a negative rate, and gives λ = 0 within rounding for a
//! sealed circuit. (One-sided Jacobi: Demmel and Veselić, SIAM J. Matrix Anal.
//! Appl. 13 (1992) 1204; cited from memory.)

use crate::plant::network::{Network, Reduced};

/// The modes of a linear network: rates, and the way to and from modal
/// coordinates.
#[derive(Clone, Debug)]
pub(crate) struct Modes<const N: usize> {
    /// Number of modes, one for each storing node.
    n: usize,
    /// Decay rate of each mode, 1/s, ≥ 0, slowest first.
    pub rates: [f64; N],
    /// The storing nodes.
    pub storing: [usize; N],
    /// T: pressure of storing node `i` is Σ pressure\[i]\[k]·z\[k].
    pub pressure: [[f64; N]; N],
    /// T⁻ᵀ: gas at storing node `i` is Σ stored\[i]\[k]·z\[k].
    stored: [[f64; N]; N],
}

impl<const N: usize> Modes<N> {
    /// Splits a reduced network with the given elastances (cmH2O/mL, by node).
    pub fn of(network: &Network, reduced: &Reduced<N>, elastances: &[f64; N]) -> Self {
        let mut modes = Self {
            n: 0,
            rates: [0.0; N],
            storing: [0; N],
            pressure: [[0.0; N]; N],
            stored: [[0.0; N]; N],
        };
        for node in (0..network.nodes.len()).filter(|&node| network.stores_gas(node)) {
            modes.storing[modes.n] = node;
            modes.n += 1;
        }
        let n = modes.n;
        let mut roots = [0.0; N];
        for i in 0..n {
            roots[i] = elastances[modes.storing[i]].sqrt();
        }
        let belongs = subtrees(network, &modes.storing[..n]);
        let mut columns = [[[0.0; N]; N]; N];
        let columns = columns.as_flattened_mut();
        let count = factor(reduced, &modes.storing[..n], &belongs, &roots, columns);
        let (squares, u) = orthogonal_rows(n, &mut columns[..count]);
        for k in 0..n {
            modes.rates[k] = squares[k];
            for j in 0..n {
                // p = Nᵀ·√E·U·z and q = N⁻¹·(1/√E)·U·z.
                for i in 0..n {
                    if belongs[i][j] {
                        modes.pressure[j][k] += roots[i] * u[i][k];
                    }
                }
                modes.stored[j][k] += u[j][k] / roots[j];
                if let Some(parent) = parent_row(network, &modes.storing[..n], j) {
                    modes.stored[parent][k] -= u[j][k] / roots[j];
                }
            }
        }
        modes
    }

    /// The same modes for gas and pressures that are given in another numbering:
    /// what was node `i` is now at `places[i]`.
    pub fn at_places(mut self, places: &[usize]) -> Self {
        for node in &mut self.storing[..self.n] {
            *node = places[*node];
        }
        self
    }

    /// Number of modes, one for each storing node; said in a way that spares the
    /// loops over modes their checks of bounds.
    #[inline]
    pub fn n(&self) -> usize {
        self.n.min(N)
    }

    /// Tᵀ·x: modal coordinates of something given by node, such as stored gas.
    /// Like every vector here that is made for each piece, they are written where
    /// they are to stay: moving them costs as much as making them.
    #[inline]
    pub fn coordinates(&self, by_node: &[f64; N], z: &mut [f64; N]) {
        *z = [0.0; N];
        for k in 0..self.n() {
            let mut sum = 0.0;
            for i in 0..self.n() {
                sum += self.pressure[i][k] * by_node[self.storing[i]];
            }
            z[k] = sum;
        }
    }

    /// T⁻¹·p: modal coordinates of pressures given by node.
    pub fn dual_coordinates(&self, by_node: &[f64; N]) -> [f64; N] {
        let mut y = [0.0; N];
        for i in 0..self.n() {
            let x = by_node[self.storing[i]];
            for k in 0..self.n() {
                y[k] += self.stored[i][k] * x;
            }
        }
        y
    }

    /// The volume in each node's store, which holds what is stored there and at
    /// the nodes that stand against it: the weight of each mode's z.
    pub fn volumes(&self, network: &Network) -> [[f64; N]; N] {
        let mut volumes = [[0.0; N]; N];
        // Parents have lower numbers than what stands against them.
        for i in (0..self.n()).rev() {
            let node = self.storing[i];
            for k in 0..self.n() {
                volumes[node][k] += self.stored[i][k];
            }
            if let Some(parent) = network.nodes[node].store.as_ref().and_then(|s| s.parent) {
                for k in 0..self.n() {
                    volumes[parent][k] += volumes[node][k];
                }
            }
        }
        volumes
    }

    /// Gas stored at each node.
    #[inline]
    pub fn stored(&self, z: &[f64; N], by_node: &mut [f64; N]) {
        *by_node = [0.0; N];
        for i in 0..self.n() {
            let mut sum = 0.0;
            for k in 0..self.n() {
                sum += self.stored[i][k] * z[k];
            }
            by_node[self.storing[i]] = sum;
        }
    }

    /// What each mode holds at a node; nothing where none is stored.
    pub fn held(&self, node: usize) -> Option<&[f64; N]> {
        let row = self.storing[..self.n()].iter().position(|&storing| storing == node)?;
        Some(&self.stored[row])
    }
}

/// Whether row j's store lies in the subtree of row i's: the matrix N.
fn subtrees<const N: usize>(network: &Network, storing: &[usize]) -> [[bool; N]; N] {
    let mut belongs = [[false; N]; N];
    for j in 0..storing.len() {
        let mut at = Some(j);
        while let Some(i) = at {
            belongs[i][j] = true;
            at = parent_row(network, storing, i);
        }
    }
    belongs
}

fn parent_row(network: &Network, storing: &[usize], row: usize) -> Option<usize> {
    let parent = network.nodes[storing[row]].store.as_ref()?.parent?;
    storing.iter().position(|&node| node == parent)
}

/// The columns of B = √E·N·A·√G, one for each path between storing nodes and
/// one for each node's paths to boundaries, left in the first of `columns`, which are
/// zero: how many there are.
fn factor<const N: usize>(
    reduced: &Reduced<N>,
    storing: &[usize],
    belongs: &[[bool; N]; N],
    roots: &[f64; N],
    columns: &mut [[f64; N]],
) -> usize {
    let (n, mut count) = (storing.len(), 0);
    let mut push = |conductance: f64, a: usize, b: Option<usize>| {
        if conductance <= 0.0 {
            return;
        }
        let column = &mut columns[count];
        for i in 0..n {
            let (has_a, has_b) = (belongs[i][a], b.is_some_and(|b| belongs[i][b]));
            if has_a != has_b {
                let root = conductance.sqrt() * roots[i];
                column[i] = if has_a { root } else { -root };
            }
        }
        count += 1;
    };
    for i in 0..n {
        push(reduced.to_boundaries(storing[i]), i, None);
        for j in i + 1..n {
            push(reduced.between(storing[i], storing[j]), i, Some(j));
        }
    }
    count
}

/// Rotates the rows of B until they are orthogonal. Returns their squared
/// lengths, smallest first, and U with B = U·(rotated B).
fn orthogonal_rows<const N: usize>(
    n: usize,
    columns: &mut [[f64; N]],
) -> ([f64; N], [[f64; N]; N]) {
    let mut u = [[0.0; N]; N];
    for i in 0..n {
        u[i][i] = 1.0;
    }
    let dot = |columns: &[[f64; N]], i: usize, j: usize| {
        columns.iter().map(|column| column[i] * column[j]).sum::<f64>()
    };
    let scale: f64 = (0..n).map(|i| dot(columns, i, i)).sum();
    for _sweep in 0..60 {
        let mut turned = false;
        for i in 0..n {
            for j in i + 1..n {
                let (a, c, d) = (dot(columns, i, i), dot(columns, j, j), dot(columns, i, j));
                // Below the second bound both rows are rounding noise.
                if d * d <= 8e-31 * a * c || d.abs() <= 1e-30 * scale {
                    continue;
                }
                turned = true;
                let zeta = (c - a) / (2.0 * d);
                let tan = zeta.signum() / (zeta.abs() + (1.0 + zeta * zeta).sqrt());
                let cos = 1.0 / (1.0 + tan * tan).sqrt();
                let sin = cos * tan;
                for pair in columns.iter_mut().chain(&mut u[..n]) {
                    let (x, y) = (pair[i], pair[j]);
                    pair[i] = cos * x - sin * y;
                    pair[j] = sin * x + cos * y;
                }
            }
        }
        if !turned {
            break;
        }
    }
    let mut order = [(0.0, 0); N];
    for i in 0..n {
        order[i] = (dot(columns, i, i), i);
    }
    order[..n].sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut squares, mut sorted) = ([0.0; N], [[0.0; N]; N]);
    for (k, &(square, from)) in order[..n].iter().enumerate() {
        squares[k] = square;
        for i in 0..n {
            sorted[i][k] = u[i][from];
        }
    }
    (squares, sorted)
}
