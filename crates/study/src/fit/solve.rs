//! A few equations in as many unknowns.

pub(super) type Matrix<const N: usize> = [[f64; N]; N];

/// The inverse of a symmetric positive definite matrix, by Cholesky's factor; `None`
/// where it is none. Rows and columns are scaled to a diagonal of 1 first.
pub(super) fn inverse<const N: usize>(matrix: &Matrix<N>) -> Option<Matrix<N>> {
    let mut scale = [0.0; N];
    for i in 0..N {
        if matrix[i][i] <= 0.0 || !matrix[i][i].is_finite() {
            return None;
        }
        scale[i] = 1.0 / matrix[i][i].sqrt();
    }
    // L with L·Lᵀ = A, and its inverse.
    let mut l = [[0.0; N]; N];
    let mut back = [[0.0; N]; N];
    for i in 0..N {
        for j in 0..=i {
            let sum: f64 = (0..j).map(|k| l[i][k] * l[j][k]).sum();
            let rest = matrix[i][j] * scale[i] * scale[j] - sum;
            l[i][j] = if i == j { root(rest)? } else { rest / l[j][j] };
        }
        back[i][i] = 1.0 / l[i][i];
        for j in 0..i {
            let sum: f64 = (j..i).map(|k| l[i][k] * back[k][j]).sum();
            back[i][j] = -sum / l[i][i];
        }
    }
    let mut inverse = [[0.0; N]; N];
    for i in 0..N {
        for j in 0..N {
            let sum: f64 = (0..N).map(|k| back[k][i] * back[k][j]).sum();
            inverse[i][j] = sum * scale[i] * scale[j];
        }
    }
    Some(inverse)
}

fn root(square: f64) -> Option<f64> {
    (square > 1e-15).then(|| square.sqrt())
}

/// Matrix times vector.
pub(super) fn times<const N: usize>(matrix: &Matrix<N>, vector: &[f64; N]) -> [f64; N] {
    matrix.map(|row| row.iter().zip(vector).map(|(a, b)| a * b).sum())
}

/// Eigenvalues of a symmetric matrix, rising, by Jacobi's rotations.
pub(super) fn eigenvalues(matrix: &Matrix<3>) -> [f64; 3] {
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
