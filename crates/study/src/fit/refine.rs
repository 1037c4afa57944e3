//! Least squares with noise in every column, and what else a recorder does.
//!
//! What is left of the pressure, r = P − P₀ − D·t − R·Q − V/C, holds the noise of the
//! pressure, R times that of the flow, and 1/C times that of the volume. Where the
//! volume is integrated from the flow, its noise is the flow's, added up: a state
//! that walks. A Kalman filter over that state turns the residuals into independent
//! ones of variance 1 (their squares add up to rᵀ·Σ⁻¹·r, Σ being the covariance of r,
//! which depends on R and C). Their sum of squares is made least by the
//! Gauss–Newton method, from the plain solution on. With noise in every column this
//! is least squares with errors in variables (Deming's problem).
//!
//! D takes what drifts: a zero of the flow that is off, added up in the volume, or one
//! of the pressure that wanders. How far the times of samples are off is told by the
//! greatest likelihood.

use super::linear::Design;
use super::solve::{Matrix, inverse, times};
use super::whiten::Whitener;
use super::{FEWEST_SAMPLES, Noise, Solution, Values, VolumeFrom};

/// Steps of the method, more than any fit that is not odd needs.
const MOST_STEPS: u32 = 40;
/// A longer part of the time constant between samples is coarse.
pub(super) const COARSE: f64 = 0.2;
/// Beyond this part no interval is told.
const TOO_COARSE: f64 = 0.5;
/// Below this likeness of neighbours standard errors are left as they are.
const LIKE: f64 = 0.2;
/// Twice the logarithm of the likelihood must grow by so much before times are held to
/// be off (1 in 1,000 by chance, Wilks).
const JITTER_GAIN: f64 = 9.6;

/// A solution, and what it was found with.
pub(super) struct Refined<'a> {
    pub solution: Solution,
    pub whitener: Whitener<'a>,
    /// (JᵀJ)⁻¹ and Jᵀ of the white residuals.
    pub inverse_square: Matrix<4>,
    pub columns: [Vec<f64>; 4],
    pub white: Vec<f64>,
}

/// `None` where there is no noise to weigh by.
pub(super) fn refine<'a>(
    design: &'a Design<'a>,
    volume_from: VolumeFrom,
    noise: &Noise,
    plain: &Solution,
) -> Option<Refined<'a>> {
    let mut whitener = Whitener::new(design, volume_from, noise)?;
    let mut values = settle(&whitener, &plain.values)?;
    if volume_from == VolumeFrom::Flow {
        for _ in 0..2 {
            whitener.jitter = jitter(&mut whitener, &values);
            if whitener.jitter == 0.0 {
                break;
            }
            values = settle(&whitener, &values)?;
        }
    }
    let (white, _) = whitener.whiten(&values);
    let columns = whitener.derivatives(&values);
    let inverse_square = inverse(&normal_equations(&columns, &white).0)?;
    let likeness = likeness(&white);
    // Where neighbours are alike there are fewer independent ones: (1 + ρ)/(1 − ρ).
    let alike = if likeness > LIKE { (1.0 + likeness) / (1.0 - likeness).max(1e-3) } else { 1.0 };
    let [r, e, ..] = values;
    let scale = variance(&whitener, &white) * alike * coarse(&whitener, r / e);
    let covariance = inverse_square.map(|row| row.map(|x| scale * x));
    let solution = Solution { values, covariance, likeness };
    Some(Refined { solution, whitener, inverse_square, columns, white })
}

/// How much larger variances are where a volume is integrated from few samples in a time
/// constant: a jump of the flow has half faded when it is seen, which no longer is noise.
/// Found by trying, `tests/tests/study_fit_coverage.rs`; infinite where nothing held.
fn coarse(whitener: &Whitener<'_>, time_constant_s: f64) -> f64 {
    let part = mean_step(&whitener.design.record.time_s) / time_constant_s.abs();
    if whitener.steps.is_none() || part <= COARSE || !part.is_finite() {
        return 1.0;
    }
    let wider = 1.0 + 0.5 * part;
    if part > TOO_COARSE { f64::INFINITY } else { wider * wider }
}

/// The variance of white residuals: 1 where the noise is what it was taken to be. Behind
/// jumps of the flow they are small, as a bound was taken, and would make the others so.
fn variance(whitener: &Whitener<'_>, white: &[f64]) -> f64 {
    let plain = white.iter().enumerate().filter(|(k, _)| !whitener.behind_jump(*k));
    let (mut square, mut count) = (0.0, 0);
    for (_, u) in plain {
        square += u * u;
        count += 1;
    }
    if count < FEWEST_SAMPLES {
        (square, count) = (sum_of_squares(white), white.len());
    }
    square / (count as f64 - 4.0)
}

/// The Gauss–Newton method, until nothing moves.
fn settle(whitener: &Whitener<'_>, from: &Values) -> Option<Values> {
    let mut values = *from;
    let mut white = whitener.whiten(&values).0;
    let mut least = sum_of_squares(&white);
    for step in 0..MOST_STEPS {
        let columns = whitener.derivatives(&values);
        let (square, right) = normal_equations(&columns, &white);
        let inverted = inverse(&square);
        if step == 0 && inverted.is_none() {
            return None;
        }
        let Some(inverted) = inverted else { break };
        let change = times(&inverted, &right);
        let Some(better) = downhill(whitener, &values, &change, least) else { break };
        let settled = (0..4).all(|i| {
            let error = (inverted[i][i] * least / white.len() as f64).max(0.0).sqrt();
            (better.0[i] - values[i]).abs() <= 1e-6 * error
        });
        (values, white, least) = better;
        if settled {
            break;
        }
    }
    Some(values)
}

/// The variance of the times that makes the residuals likeliest, from a ladder of them;
/// 0 where it would hardly be likelier.
fn jitter(whitener: &mut Whitener<'_>, values: &Values) -> f64 {
    let record = whitener.design.record;
    let n = record.time_s.len() as f64;
    let mut unlikely = |jitter: f64| {
        whitener.jitter = jitter;
        let (white, logarithms) = whitener.whiten(values);
        n * tidewright::math::ln((sum_of_squares(&white) / n).max(f64::MIN_POSITIVE)) + logarithms
    };
    let step_s = mean_step(&record.time_s);
    let without = unlikely(0.0);
    let ladder = (0..14).map(|k| step_s * 0.4 * tidewright::math::exp(-0.35 * f64::from(k)));
    let best = ladder.map(|sd| (unlikely(sd * sd), sd * sd)).min_by(|a, b| a.0.total_cmp(&b.0));
    match best {
        Some((least, jitter)) if without - least > JITTER_GAIN => jitter,
        _ => 0.0,
    }
}

/// The mean step between samples, s.
fn mean_step(time_s: &[f64]) -> f64 {
    match (time_s.first(), time_s.last()) {
        (Some(first), Some(last)) => (last - first) / (time_s.len() as f64 - 1.0),
        _ => 0.0,
    }
}

/// A step that makes the sum of squares smaller, halved until it does.
fn downhill(
    whitener: &Whitener<'_>,
    values: &Values,
    step: &[f64; 4],
    least: f64,
) -> Option<(Values, Vec<f64>, f64)> {
    let mut part = 1.0;
    for _ in 0..20 {
        let tried: Values = std::array::from_fn(|i| values[i] - part * step[i]);
        let white = whitener.whiten(&tried).0;
        let sum = sum_of_squares(&white);
        if sum <= least {
            return Some((tried, white, sum));
        }
        part *= 0.5;
    }
    None
}

pub(super) fn sum_of_squares(white: &[f64]) -> f64 {
    white.iter().map(|u| u * u).sum()
}

pub(super) fn product(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn normal_equations(columns: &[Vec<f64>; 4], white: &[f64]) -> (Matrix<4>, [f64; 4]) {
    let square =
        std::array::from_fn(|i| std::array::from_fn(|j| product(&columns[i], &columns[j])));
    (square, std::array::from_fn(|i| product(&columns[i], white)))
}

/// Correlation of neighbours.
fn likeness(white: &[f64]) -> f64 {
    let neighbours: f64 = white.windows(2).map(|w| w[0] * w[1]).sum();
    neighbours / sum_of_squares(white).max(f64::MIN_POSITIVE)
}
