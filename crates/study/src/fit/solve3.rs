//! Three equations in three unknowns.

pub(super) type Matrix3 = [[f64; 3]; 3];

/// The inverse of a symmetric positive definite matrix, by Cholesky's factor; `None`
/// where it is none. Rows and columns are scaled to a diagonal of 1 first.
pub(super) fn inverse(matrix: &Matrix3) -> Option<Matrix3> {
    let mut scale = [0.0; 3];
    for i in 0..3 {
        if matrix[i][i] <= 0.0 || !matrix[i][i].is_finite() {
            return None;
        }
        scale[i] = 1.0 / matrix[i][i].sqrt();
    }
    let at = |i: usize, j: usize| matrix[i][j] * scale[i] * scale[j];
    // L with L·Lᵀ = A, and its inverse.
    let l00 = at(0, 0).sqrt();
    let l10 = at(1, 0) / l00;
    let l20 = at(2, 0) / l00;
    let l11 = root(at(1, 1) - l10 * l10)?;
    let l21 = (at(2, 1) - l20 * l10) / l11;
    let l22 = root(at(2, 2) - l20 * l20 - l21 * l21)?;
    let i = [
        [1.0 / l00, 0.0, 0.0],
        [-l10 / (l00 * l11), 1.0 / l11, 0.0],
        [(l10 * l21 / l11 - l20) / (l00 * l22), -l21 / (l11 * l22), 1.0 / l22],
    ];
    let mut inverse = [[0.0; 3]; 3];
    for a in 0..3 {
        for b in 0..3 {
            let sum: f64 = (0..3).map(|k| i[k][a] * i[k][b]).sum();
            inverse[a][b] = sum * scale[a] * scale[b];
        }
    }
    Some(inverse)
}

fn root(square: f64) -> Option<f64> {
    (square > 1e-15).then(|| square.sqrt())
}

/// Matrix times vector.
pub(super) fn times(matrix: &Matrix3, vector: &[f64; 3]) -> [f64; 3] {
    matrix.map(|row| row.iter().zip(vector).map(|(a, b)| a * b).sum())
}

/// Eigenvalues of a symmetric matrix, rising, by Jacobi's rotations.
pub(super) fn eigenvalues(matrix: &Matrix3) -> [f64; 3] {
    let mut a = *matrix;
    for _ in 0..30 {
        for (p, q) in [(0, 1), (0, 2), (1, 2)] {
            if a[p][q].abs() <= 1e-300 {
                continue;
            }
            let theta = (a[q][q] - a[p][p]) / (2.0 * a[p][q]);
            let t = theta.signum() / (theta.abs() + (theta * theta + 1.0).sqrt());
            let c = 1.0 / (t * t + 1.0).sqrt();
            let s = t * c;
            for k in 0..3 {
                let (kp, kq) = (a[k][p], a[k][q]);
                a[k][p] = c * kp - s * kq;
                a[k][q] = s * kp + c * kq;
            }
            for k in 0..3 {
                let (pk, qk) = (a[p][k], a[q][k]);
                a[p][k] = c * pk - s * qk;
                a[q][k] = s * pk + c * qk;
            }
        }
    }
    let mut values = [a[0][0], a[1][1], a[2][2]];
    values.sort_by(f64::total_cmp);
    values
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_form_of_a_small_matrix() {
        let a = [[4.0, 2.0, 0.6], [2.0, 5.0, 1.0], [0.6, 1.0, 3.0]];
        let inverse = inverse(&a).unwrap();
        for i in 0..3 {
            let row = times(&a, &[inverse[0][i], inverse[1][i], inverse[2][i]]);
            for (j, value) in row.into_iter().enumerate() {
                assert!((value - f64::from(u8::from(i == j))).abs() < 1e-14, "{value}");
            }
        }
        assert_eq!(super::inverse(&[[1.0, 1.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 1.0]]), None);
    }

    #[test]
    fn closed_form_eigenvalues() {
        // 2 and 2 ± √2 on the second difference.
        let a = [[2.0, -1.0, 0.0], [-1.0, 2.0, -1.0], [0.0, -1.0, 2.0]];
        let root = 2.0_f64.sqrt();
        for (found, expected) in eigenvalues(&a).into_iter().zip([2.0 - root, 2.0, 2.0 + root]) {
            assert!((found - expected).abs() < 1e-14, "{found}");
        }
    }
}
