//! Least squares with noise in every column.
//!
//! What is left of the pressure, r = P − P₀ − R·Q − V/C, holds the noise of the
//! pressure, R times that of the flow, and 1/C times that of the volume. Where the
//! volume is integrated from the flow, its noise is the flow's, added up: a state
//! that walks. A Kalman filter over that state turns the residuals into independent
//! ones of variance 1 (their squares add up to rᵀ·Σ⁻¹·r, Σ being the covariance of r,
//! which depends on R and C). Their sum of squares is made least by the
//! Gauss–Newton method, from the plain solution on. With noise in every column this
//! is least squares with errors in variables (Deming's problem).

use super::linear::Design;
use super::solve3::{Matrix3, times};
use super::{Noise, Solution, Values, VolumeFrom, inverse};

/// Steps of the method, more than any fit that is not odd needs.
const MOST_STEPS: u32 = 40;
/// Below this likeness of neighbours standard errors are left as they are.
const LIKE: f64 = 0.2;
/// A bend of the flow beyond so many standard deviations is no noise.
const BEND_SD: f64 = 6.0;

pub(super) fn refine(
    design: &Design<'_>,
    volume_from: VolumeFrom,
    noise: &Noise,
    plain: &Solution,
) -> Solution {
    let Some(whitener) = Whitener::new(design, volume_from, noise) else {
        return *plain;
    };
    let mut values = plain.values;
    let mut white = whitener.whiten(&values);
    let mut least = sum_of_squares(&white);
    let mut inverse_square = None;
    for _ in 0..MOST_STEPS {
        let columns = whitener.derivatives(&values);
        let (square, right) = normal_equations(&columns, &white);
        let Some(inverted) = inverse(&square) else { break };
        inverse_square = Some(inverted);
        let step = times(&inverted, &right);
        let Some(better) = downhill(&whitener, &values, &step, least) else { break };
        let settled = (0..3).all(|i| {
            let error = (inverted[i][i] * least / white.len() as f64).max(0.0).sqrt();
            (better.0[i] - values[i]).abs() <= 1e-6 * error
        });
        (values, white, least) = better;
        if settled {
            break;
        }
    }
    let Some(inverse_square) = inverse_square else { return *plain };
    let n = white.len() as f64;
    let likeness = likeness(&white);
    // Where neighbours are alike there are fewer independent ones: (1 + ρ)/(1 − ρ).
    let alike = if likeness > LIKE { (1.0 + likeness) / (1.0 - likeness).max(1e-3) } else { 1.0 };
    let scale = least / (n - 3.0) * alike;
    Solution { values, covariance: inverse_square.map(|row| row.map(|x| scale * x)), likeness }
}

/// A step that makes the sum of squares smaller, halved until it does.
fn downhill(
    whitener: &Whitener<'_>,
    values: &Values,
    step: &[f64; 3],
    least: f64,
) -> Option<(Values, Vec<f64>, f64)> {
    let mut part = 1.0;
    for _ in 0..20 {
        let tried: Values = std::array::from_fn(|i| values[i] - part * step[i]);
        let white = whitener.whiten(&tried);
        let sum = sum_of_squares(&white);
        if sum <= least {
            return Some((tried, white, sum));
        }
        part *= 0.5;
    }
    None
}

fn sum_of_squares(white: &[f64]) -> f64 {
    white.iter().map(|u| u * u).sum()
}

fn normal_equations(columns: &[Vec<f64>; 3], white: &[f64]) -> (Matrix3, [f64; 3]) {
    let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let square =
        std::array::from_fn(|i| std::array::from_fn(|j| product(&columns[i], &columns[j])));
    (square, std::array::from_fn(|i| product(&columns[i], white)))
}

/// Correlation of neighbours.
fn likeness(white: &[f64]) -> f64 {
    let neighbours: f64 = white.windows(2).map(|w| w[0] * w[1]).sum();
    neighbours / sum_of_squares(white).max(f64::MIN_POSITIVE)
}

/// Makes residuals independent and of variance 1.
struct Whitener<'a> {
    design: &'a Design<'a>,
    /// Variance of the pressure's own noise, with that of a volume of its own.
    pressure: f64,
    volume: f64,
    flow: f64,
    /// For each step between samples where the volume is integrated: its length, s,
    /// and the variance of the volume for a jump or bend of the flow within it.
    steps: Option<Vec<(f64, f64)>>,
    /// Small changes of each value, for derivatives.
    change: [f64; 3],
}

impl<'a> Whitener<'a> {
    /// `None` where nothing is noisy: then the plain solution is as good.
    fn new(design: &'a Design<'a>, volume_from: VolumeFrom, noise: &Noise) -> Option<Self> {
        let square = |x: f64| x * x;
        let pressure = square(noise.pressure_cmh2o);
        if pressure <= 0.0 {
            return None;
        }
        let spread = |values: &[f64]| values.iter().map(|x| x.abs()).fold(1e-9, f64::max);
        let record = design.record;
        let steps = (volume_from == VolumeFrom::Flow).then(|| {
            let bends = bends(&record.flow_ml_s, noise.flow_ml_s);
            let lengths = record.time_s.windows(2).map(|w| w[1] - w[0]);
            // A jump at any time within the step: evenly spread, of variance h²/12.
            lengths.zip(bends).map(|(h, bend)| (h, square(bend * h) / 12.0)).collect()
        });
        // A change that moves the pressure by a hundredth of its noise.
        let small = 0.01 * noise.pressure_cmh2o;
        Some(Self {
            design,
            pressure,
            volume: square(noise.volume_ml),
            flow: square(noise.flow_ml_s),
            steps,
            change: [small / spread(&record.flow_ml_s), small / spread(design.volume_ml), small],
        })
    }

    fn whiten(&self, values: &Values) -> Vec<f64> {
        let residuals = self.design.residuals(values);
        match &self.steps {
            Some(steps) => self.filtered(residuals, steps, values),
            None => {
                let [r, e, _] = values;
                let sd = (self.pressure + r * r * self.flow + e * e * self.volume).sqrt();
                residuals.into_iter().map(|residual| residual / sd).collect()
            }
        }
    }

    /// The state is the error of the volume and the noise of the flow at this sample:
    /// residual = −E·w − R·ε + η, and w grows by h/2·(ε before + ε now) and by jumps.
    fn filtered(&self, mut residuals: Vec<f64>, steps: &[(f64, f64)], values: &Values) -> Vec<f64> {
        let [r, e, _] = *values;
        let (mut w, mut eps) = (0.0, 0.0);
        let (mut ww, mut we, mut ee) = (0.0, 0.0, self.flow);
        let steps = std::iter::once(None).chain(steps.iter().map(Some));
        for (residual, step) in residuals.iter_mut().zip(steps) {
            if let Some(&(h, jump)) = step {
                let half = 0.5 * h;
                w += half * eps;
                ww += 2.0 * half * we + half * half * (ee + self.flow) + jump;
                (eps, we, ee) = (0.0, half * self.flow, self.flow);
            }
            let (to_w, to_e) = (-(e * ww + r * we), -(e * we + r * ee));
            let variance = self.pressure - e * to_w - r * to_e;
            let surprise = *residual + e * w + r * eps;
            let (gain_w, gain_e) = (to_w / variance, to_e / variance);
            w += gain_w * surprise;
            eps += gain_e * surprise;
            ww -= gain_w * to_w;
            we -= gain_w * to_e;
            ee -= gain_e * to_e;
            *residual = surprise / variance.sqrt();
        }
        residuals
    }

    /// ∂(white residuals)/∂(values), by central differences.
    fn derivatives(&self, values: &Values) -> [Vec<f64>; 3] {
        std::array::from_fn(|i| {
            let turned = |by: f64| {
                let mut values = *values;
                values[i] += by;
                self.whiten(&values)
            };
            let (less, more) = (turned(-self.change[i]), turned(self.change[i]));
            let pace = |(more, less): (f64, f64)| (more - less) / (2.0 * self.change[i]);
            more.into_iter().zip(less).map(pace).collect()
        })
    }
}

/// For each step between samples, how much the flow bends beside it; 0 where noise
/// would do. A jump of this size anywhere within the step is what the trapezoidal
/// rule cannot see; of a smooth bend it misses less.
fn bends(flow: &[f64], noise: f64) -> impl Iterator<Item = f64> {
    let bend = |i: usize| match flow.get(i..i + 3) {
        Some(&[a, b, c]) => (a - 2.0 * b + c).abs(),
        _ => 0.0,
    };
    // Noise of variance σ² gives second differences 6σ².
    let least = BEND_SD * 6.0_f64.sqrt() * noise;
    (0..flow.len().saturating_sub(1)).map(move |i| {
        let before = if i == 0 { 0.0 } else { bend(i - 1) };
        let most = before.max(bend(i));
        if most > least { most } else { 0.0 }
    })
}
