//! A linear network split into independent modes, once for each phase shape.
//!
//! With the symmetric positive compliance matrix M, the conductance matrix L and
//! the inputs b, the gas stored at the nodes q obeys q′ = −L·p + b, q = M·p.
//! Write M = K·Kᵀ and L = A·G·Aᵀ (incidence, conductances). The factor
//! B = K⁻¹·A·√G has the singular values √λ; one-sided Jacobi rotations make its
//! rows orthogonal. With T = K⁻ᵀ·U:
//!
//! p = T·z, z = Tᵀ·q, z′ = −λ·z + Tᵀ·b.
//!
//! Working on the factor B instead of on L keeps slow rates accurate beside fast
//! ones, can never give a negative rate, and gives λ = 0 within rounding for a
//! sealed circuit. (Method: Demmel and Veselić, SIAM J. Matrix Anal. Appl. 13
//! (1992) 1204, cited from memory.)

use nalgebra::{DMatrix, DVector};

use crate::network::{End, Network, NowhereToGo, Path};

/// The most modes a network may have: one for each node that stores gas.
pub const MAX_MODES: usize = 12;

/// One number for each mode; the unused tail is zero.
pub(crate) type ModeVec = [f64; MAX_MODES];

/// A quantity that is affine in the modes: offset + Σ weight·z.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Affine {
    pub offset: f64,
    pub weights: ModeVec,
}

/// The modes of one phase shape.
#[derive(Clone, Debug)]
pub(crate) struct Modes {
    /// Number of modes in use.
    pub n: usize,
    /// Decay rate of each mode, 1/s, ≥ 0.
    pub rates: ModeVec,
    /// Constant input of each mode.
    pub inputs: ModeVec,
    /// Pressure of every node of the network.
    pub pressures: Vec<Affine>,
    /// Flow through every path of the network, along its direction.
    pub flows: Vec<Affine>,
    /// The storing nodes in the order of `to_modes`' columns.
    storing: Vec<usize>,
    /// Tᵀ, a column for each storing node.
    to_modes: Vec<ModeVec>,
    /// M·T, a row for each storing node.
    to_stored: Vec<ModeVec>,
}

impl Modes {
    /// Finds the modes of a network.
    pub fn of(network: &Network) -> Result<Self, NowhereToGo> {
        let reduced = network.reduce()?;
        let storing = reduced.storing;
        let n = storing.len();
        assert!(n <= MAX_MODES, "a network has at most {MAX_MODES} storing nodes");
        let row = |node: usize| storing.iter().position(|&s| s == node);

        let cholesky = compliance_factor(network, &storing);
        let mut factor = DMatrix::zeros(n, reduced.paths.len());
        let mut inputs_by_node =
            DVector::from_iterator(n, storing.iter().map(|&s| reduced.sources[s]));
        for (column, path) in reduced.paths.iter().enumerate() {
            add_path(path, network, &row, column, &mut factor, &mut inputs_by_node);
        }
        cholesky.solve_lower_triangular_mut(&mut factor);
        let (squares, u) = orthogonal_rows(factor);

        let mut to_pressures = u.clone();
        cholesky.tr_solve_lower_triangular_mut(&mut to_pressures);
        let to_modes = to_pressures.transpose();
        let to_stored = &cholesky * &u;
        let mode_inputs = &to_modes * inputs_by_node;

        let mut modes = Self {
            n,
            rates: [0.0; MAX_MODES],
            inputs: [0.0; MAX_MODES],
            pressures: Vec::new(),
            flows: Vec::new(),
            storing,
            to_modes: (0..n).map(|node| mode_vec(to_modes.column(node).iter())).collect(),
            to_stored: (0..n).map(|node| mode_vec(to_stored.row(node).iter())).collect(),
        };
        modes.rates[..n].copy_from_slice(&squares);
        modes.inputs[..n].copy_from_slice(mode_inputs.as_slice());
        modes.pressures = reduced
            .pressures
            .iter()
            .map(|pressure| {
                let mut affine = Affine { offset: pressure.offset, ..Affine::default() };
                for &(node, weight) in &pressure.weights {
                    let position = modes.storing.iter().position(|&s| s == node);
                    let position = position.expect("weights name storing nodes");
                    for k in 0..n {
                        affine.weights[k] += weight * to_pressures[(position, k)];
                    }
                }
                affine
            })
            .collect();
        modes.flows = network.paths.iter().map(|path| modes.flow(path, network)).collect();
        Ok(modes)
    }

    /// Modal coordinates of the gas stored at each node of the network.
    pub fn coordinates(&self, stored: &ModeVec) -> ModeVec {
        let mut z = [0.0; MAX_MODES];
        for (column, &node) in self.to_modes.iter().zip(&self.storing) {
            for k in 0..self.n {
                z[k] += column[k] * stored[node];
            }
        }
        z
    }

    /// Gas stored at each node of the network.
    pub fn stored(&self, z: &ModeVec) -> ModeVec {
        let mut stored = [0.0; MAX_MODES];
        for (row, &node) in self.to_stored.iter().zip(&self.storing) {
            stored[node] = (0..self.n).map(|k| row[k] * z[k]).sum();
        }
        stored
    }

    fn flow(&self, path: &Path, network: &Network) -> Affine {
        let pressure = |end: End| match end {
            End::Node(node) => self.pressures[node],
            End::Boundary(b) => Affine { offset: network.boundaries[b], ..Affine::default() },
        };
        let (from, to) = (pressure(path.from), pressure(path.to));
        let mut flow = Affine { offset: path.conductance * (from.offset - to.offset), ..from };
        for (weight, other) in flow.weights.iter_mut().zip(to.weights) {
            *weight = path.conductance * (*weight - other);
        }
        flow
    }
}

impl Affine {
    /// Value at the modal coordinates `z`, of which the first `n` are in use.
    pub fn at(&self, n: usize, z: &ModeVec) -> f64 {
        self.offset + self.dot(n, z)
    }

    /// The part that depends on the modes.
    pub fn dot(&self, n: usize, z: &ModeVec) -> f64 {
        let mut sum = 0.0;
        for k in 0..n {
            sum += self.weights[k] * z[k];
        }
        sum
    }

    /// Sum of this and `factor` times another.
    pub fn plus(mut self, other: &Self, factor: f64) -> Self {
        self.offset += factor * other.offset;
        for (weight, more) in self.weights.iter_mut().zip(other.weights) {
            *weight += factor * more;
        }
        self
    }
}

fn mode_vec<'a>(values: impl Iterator<Item = &'a f64>) -> ModeVec {
    let mut vec = [0.0; MAX_MODES];
    for (slot, &value) in vec.iter_mut().zip(values) {
        *slot = value;
    }
    vec
}

/// Cholesky factor of the compliance matrix of the storing nodes.
fn compliance_factor(network: &Network, storing: &[usize]) -> DMatrix<f64> {
    let n = storing.len();
    let row = |node: usize| storing.iter().position(|&s| s == node);
    let mut matrix = DMatrix::zeros(n, n);
    for store in network.stores.iter().filter(|store| store.compliance > 0.0) {
        let Some(i) = row(store.node) else { continue };
        matrix[(i, i)] += store.compliance;
        if let End::Node(other) = store.against
            && let Some(j) = row(other)
        {
            matrix[(j, j)] += store.compliance;
            matrix[(i, j)] -= store.compliance;
            matrix[(j, i)] -= store.compliance;
        }
    }
    nalgebra::Cholesky::new(matrix)
        .expect("every storing node has a positive compliance toward a boundary")
        .l()
}

fn add_path(
    path: &Path,
    network: &Network,
    row: &dyn Fn(usize) -> Option<usize>,
    column: usize,
    factor: &mut DMatrix<f64>,
    inputs: &mut DVector<f64>,
) {
    let root = path.conductance.sqrt();
    let sides = [(path.from, path.to, root), (path.to, path.from, -root)];
    for (end, other, signed) in sides {
        let End::Node(node) = end else { continue };
        let Some(i) = row(node) else { continue };
        factor[(i, column)] += signed;
        if let End::Boundary(b) = other {
            inputs[i] += path.conductance * network.boundaries[b];
        }
    }
}

/// Rotates the rows of `b` until they are orthogonal. Returns the squared length
/// of each row and U with B = U·(rotated B), slowest mode first.
fn orthogonal_rows(mut b: DMatrix<f64>) -> (Vec<f64>, DMatrix<f64>) {
    let n = b.nrows();
    let mut u = DMatrix::<f64>::identity(n, n);
    let scale = b.iter().map(|x| x * x).sum::<f64>();
    for _sweep in 0..60 {
        let mut turned = false;
        for i in 0..n {
            for j in i + 1..n {
                let (a, c) = (b.row(i).norm_squared(), b.row(j).norm_squared());
                let d = b.row(i).dot(&b.row(j));
                // A row that is all rounding noise has no direction to rotate to.
                if d * d <= 8e-31 * a * c || d.abs() <= 1e-30 * scale {
                    continue;
                }
                turned = true;
                let zeta = (c - a) / (2.0 * d);
                let t = zeta.signum() / (zeta.abs() + (1.0 + zeta * zeta).sqrt());
                let cos = 1.0 / (1.0 + t * t).sqrt();
                let sin = cos * t;
                rotate_rows(&mut b, i, j, cos, sin);
                rotate_columns(&mut u, i, j, cos, sin);
            }
        }
        if !turned {
            break;
        }
    }
    let mut order: Vec<usize> = (0..n).collect();
    let squares: Vec<f64> = (0..n).map(|i| b.row(i).norm_squared()).collect();
    order.sort_by(|&i, &j| squares[i].total_cmp(&squares[j]));
    let sorted = order.iter().map(|&i| squares[i]).collect();
    (sorted, DMatrix::from_fn(n, n, |row, k| u[(row, order[k])]))
}

fn rotate_rows(m: &mut DMatrix<f64>, i: usize, j: usize, cos: f64, sin: f64) {
    for column in 0..m.ncols() {
        let (x, y) = (m[(i, column)], m[(j, column)]);
        m[(i, column)] = cos * x - sin * y;
        m[(j, column)] = sin * x + cos * y;
    }
}

fn rotate_columns(m: &mut DMatrix<f64>, i: usize, j: usize, cos: f64, sin: f64) {
    for row in 0..m.nrows() {
        let (x, y) = (m[(row, i)], m[(row, j)]);
        m[(row, i)] = cos * x - sin * y;
        m[(row, j)] = sin * x + cos * y;
    }
}
