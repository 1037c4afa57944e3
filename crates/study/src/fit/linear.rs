//! Plain least squares.

use super::solve::{Matrix, eigenvalues, inverse, times};
use super::{Record, Solution, Values};

/// The samples as columns of the equation of motion.
pub(super) struct Design<'a> {
    pub record: &'a Record,
    pub volume_ml: &'a [f64],
}

impl Design<'_> {
    /// Pressure less what values give, at each sample.
    pub fn residuals(&self, [r, e, p0, d]: &Values) -> Vec<f64> {
        let columns = self.record.flow_ml_s.iter().zip(self.volume_ml).zip(self.since_start());
        let samples = self.record.pressure_cmh2o.iter().zip(columns);
        samples.map(|(p, ((q, v), t))| p - p0 - r * q - e * v - d * t).collect()
    }

    /// The times since the first sample, s.
    fn since_start(&self) -> impl Iterator<Item = f64> {
        let start = self.record.time_s.first().copied().unwrap_or(0.0);
        self.record.time_s.iter().map(move |t| t - start)
    }

    /// From the first sample to the last, s.
    pub fn lasts_s(&self) -> f64 {
        self.since_start().last().unwrap_or(0.0)
    }

    /// XᵀX of the columns flow, volume and 1, with volume and flow less `middle`.
    fn square(&self, middle: [f64; 2]) -> Matrix<3> {
        let mut square = [[0.0; 3]; 3];
        for row in self.rows(middle) {
            for i in 0..3 {
                for j in 0..3 {
                    square[i][j] += row[i] * row[j];
                }
            }
        }
        square
    }

    fn rows(&self, [q0, v0]: [f64; 2]) -> impl Iterator<Item = [f64; 3]> {
        let columns = self.record.flow_ml_s.iter().zip(self.volume_ml);
        columns.map(move |(q, v)| [q - q0, v - v0, 1.0])
    }

    /// See [`super::Fit::condition`].
    pub fn condition(&self) -> f64 {
        let mut square = self.square([0.0, 0.0]);
        let scale = [0, 1, 2].map(|i| 1.0 / square[i][i].max(f64::MIN_POSITIVE).sqrt());
        for i in 0..3 {
            for j in 0..3 {
                square[i][j] *= scale[i] * scale[j];
            }
        }
        let [least, _, most] = eigenvalues(&square);
        (most / least.max(f64::MIN_POSITIVE)).sqrt()
    }
}

/// Least squares of the pressure alone. Volume and flow are taken from their means,
/// which keeps the digits of both.
pub(super) fn fit(design: &Design<'_>) -> Option<Solution> {
    let n = design.volume_ml.len() as f64;
    let mean = |values: &[f64]| values.iter().sum::<f64>() / n;
    let middle = [mean(&design.record.flow_ml_s), mean(design.volume_ml)];
    let p_mean = mean(&design.record.pressure_cmh2o);
    let covariance = inverse(&design.square(middle))?;
    let mut right = [0.0; 3];
    for (row, p) in design.rows(middle).zip(&design.record.pressure_cmh2o) {
        for i in 0..3 {
            right[i] += row[i] * (p - p_mean);
        }
    }
    let [r, e, at_middle] = times(&covariance, &right);
    let values = [r, e, at_middle + p_mean - r * middle[0] - e * middle[1], 0.0];
    let residuals = design.residuals(&values);
    let variance = residuals.iter().map(|r| r * r).sum::<f64>() / (n - 3.0);
    // The baseline is at the middle less R·Q̄ and V̄/C.
    let back = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [-middle[0], -middle[1], 1.0]];
    let mut of_values = [[0.0; 4]; 4];
    for i in 0..3 {
        for j in 0..3 {
            let row = times(&covariance, &back[j]);
            let sum: f64 = (0..3).map(|k| back[i][k] * row[k]).sum();
            of_values[i][j] = variance * sum;
        }
    }
    Some(Solution { values, covariance: of_values, likeness: 0.0 })
}
