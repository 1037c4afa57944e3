//! Columns that a recorder wrote in steps.
//!
//! A value rounded to steps of δ is off by up to δ/2. Where noise as large as the step
//! comes before the rounding, what it is off by is noise as well; where it does not, all
//! samples of one level are off alike, breath after breath, and more samples do not help.
//! The mean square of what they are off by alike, with noise σ before the rounding, is
//! Σ δ²/(2π²k²)·exp(−(2πkσ/δ)²) over k = 1, 2, … (the Fourier series of the saw-tooth of
//! rounding, each term damped by the noise; Widrow's theory, from memory). Without noise
//! that is δ²/12.

use std::collections::BTreeMap;

use super::refine::{Refined, product};
use super::solve::{Matrix, times};
use super::{Record, VolumeFrom};

/// More levels than this are fine enough to be noise.
const MOST_LEVELS: usize = 200;

/// The step in which a column is written, where it is written in a few.
pub(super) fn step_of(values: &[f64]) -> Option<f64> {
    let mut levels: Vec<f64> = Vec::new();
    for &value in values {
        let place = levels.partition_point(|&level| level < value);
        if levels.get(place) != Some(&value) {
            if levels.len() == MOST_LEVELS {
                return None;
            }
            levels.insert(place, value);
        }
    }
    if levels.len() < 3 || 3 * levels.len() > values.len() {
        return None;
    }
    let gaps = || levels.windows(2).map(|w| w[1] - w[0]);
    let step = gaps().fold(f64::INFINITY, f64::min);
    let whole = |gap: f64| (gap / step - (gap / step).round()).abs() < 0.02;
    gaps().all(whole).then_some(step)
}

/// The mean square of what samples of one level are off by alike, in units of the column.
pub(super) fn alike(step: f64, noise: f64) -> f64 {
    // The noise before the rounding: what there is less what rounding adds.
    let before = (noise * noise - step * step / 12.0).max(0.0);
    let pi = std::f64::consts::PI;
    let term = |k: u32| {
        let k = f64::from(k);
        let damped = tidewright::math::exp(-4.0 * pi * pi * k * k * before / (step * step));
        step * step / (2.0 * pi * pi * k * k) * damped
    };
    (1..=50).map(term).sum()
}

/// The covariance that steps of pressure and flow add to the values. Samples of one level,
/// while the flow goes the same way, are off alike.
pub(super) fn spread(
    fit: &Refined<'_>,
    record: &Record,
    volume_from: VolumeFrom,
    [pressure, flow]: [Option<(f64, f64)>; 2],
) -> Matrix<4> {
    let mut sum = [[0.0; 4]; 4];
    let [r, e, ..] = fit.solution.values;
    let mut add = |column: Vec<f64>, variance: f64| {
        let (white, _) = fit.whitener.filtered(column, &fit.solution.values);
        let right: [f64; 4] = std::array::from_fn(|i| product(&fit.columns[i], &white));
        let moved = times(&fit.inverse_square, &right);
        for i in 0..4 {
            for j in 0..4 {
                sum[i][j] += variance * moved[i] * moved[j];
            }
        }
    };
    if let Some((step, noise)) = pressure {
        let variance = alike(step, noise);
        for members in levels(&record.pressure_cmh2o, step, &record.flow_ml_s) {
            let mut column = vec![0.0; record.time_s.len()];
            members.iter().for_each(|&k| column[k] = 1.0);
            add(column, variance);
        }
    }
    if let Some((step, noise)) = flow {
        let variance = alike(step, noise);
        for members in levels(&record.flow_ml_s, step, &record.flow_ml_s) {
            let mut off = Record { time_s: record.time_s.clone(), ..Record::default() };
            off.flow_ml_s = vec![0.0; record.time_s.len()];
            members.iter().for_each(|&k| off.flow_ml_s[k] = 1.0);
            let mut column: Vec<f64> = off.flow_ml_s.iter().map(|q| r * q).collect();
            if volume_from == VolumeFrom::Flow {
                let volume = off.integrated();
                column.iter_mut().zip(volume).for_each(|(p, v)| *p += e * v);
            }
            add(column, variance);
        }
    }
    sum
}

/// The samples of each level, while the flow goes one way.
fn levels(values: &[f64], step: f64, flow: &[f64]) -> impl Iterator<Item = Vec<usize>> {
    let mut members: BTreeMap<(i64, bool), Vec<usize>> = BTreeMap::new();
    for (k, (value, flow)) in values.iter().zip(flow).enumerate() {
        members.entry(((value / step).round() as i64, *flow > 0.0)).or_default().push(k);
    }
    members.into_values()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_form_rounding_without_noise_is_off_by_a_twelfth_of_its_square() {
        assert!((alike(0.5, 0.0) / (0.25 / 12.0) - 1.0).abs() < 0.02);
        // With noise of half a step before it, no level is off more than another.
        let noise = (0.25_f64 * 0.25 + 0.25 / 12.0).sqrt();
        assert!(alike(0.5, noise) < 1e-4 * 0.25 / 12.0);
    }

    #[test]
    fn law_a_step_is_found_where_values_lie_on_one_grid() {
        let rounded = |step: f64| -> Vec<f64> {
            let wave = |k: i32| 10.0 * tidewright::math::sin(0.07 * f64::from(k));
            (0..400).map(|k| (wave(k) / step).round() * step).collect()
        };
        assert!((step_of(&rounded(0.5)).unwrap() - 0.5).abs() < 1e-9);
        assert_eq!(step_of(&rounded(1e-4)), None);
        assert_eq!(step_of(&[3.0; 50]), None);
    }
}
