//! Resistance, compliance and baseline from a recorded waveform.
//!
//! The equation of motion of a passive, linear respiratory system is fitted to the
//! samples:
//!
//! P = V/C + R·Q + P₀, with P (cmH2O) the pressure at the airway, V (mL) the volume
//! and Q (L/s) the flow into the patient.
//!
//! First by plain least squares, which is right where pressure alone is noisy. Then
//! with the noise of flow and volume in its place ([`Fit::refined`]):
//! noise in a column makes plain least squares think too little of it, and noise in
//! the flow adds up in a volume that is integrated from it. How much noise there is
//! is told from the third differences of neighbouring samples.
//!
//! What else recorders do is taken in, and named in a warning where it counts: a zero
//! that is off or drifts ([`Fit::drift_cmh2o_s`]), times that are off
//! ([`Fit::jitter_s`]), values written in steps, and jumps of the flow between samples
//! of a volume that is integrated. Where neighbouring residuals are still alike,
//! standard errors are enlarged, and a warning says so. That does not help where the
//! equation itself does not hold: look at the residual figure and at [`Fit::offers`],
//! terms for which the samples speak.
//!
//! ```
//! use tidewright_study::fit::{Record, fit};
//! // A lung of 5 mL/cmH2O behind 20 cmH2O·s/L on a baseline of 3 cmH2O.
//! let mut record = Record::default();
//! for k in 0..200 {
//!     let t = f64::from(k) * 0.01;
//!     let flow = 40.0 * tidewright::math::sin(6.0 * t);
//!     let volume = 40.0 / 6.0 * (1.0 - tidewright::math::cos(6.0 * t));
//!     record.time_s.push(t);
//!     record.flow_ml_s.push(flow);
//!     record.pressure_cmh2o.push(volume / 5.0 + 0.020 * flow + 3.0);
//!     record.volume_ml.get_or_insert_default().push(volume);
//! }
//! let fit = fit(&record)?;
//! assert!((fit.refined.compliance_ml_cmh2o.value - 5.0).abs() < 1e-9);
//! assert!((fit.refined.resistance_cmh2o_s_l.value - 20.0).abs() < 1e-9);
//! assert!((fit.refined.baseline_cmh2o.value - 3.0).abs() < 1e-9);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod columns;
mod linear;
mod noise;
mod offer;
mod record;
mod refine;
mod solve;
mod steps;
mod text;
mod warning;
mod whiten;

use thiserror::Error;

pub use columns::{Columns, MOST_SAMPLES, RecordError};
pub use noise::Noise;
pub use offer::{Offer, Term};
pub use record::Record;
pub use text::{json, text};
pub use warning::Warning;

use solve::Matrix;
use whiten::Whitener;

/// Fewest samples that noise can be told from.
pub const FEWEST_SAMPLES: usize = 12;

/// A number and how well it is known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Its standard error: the value lies within 1.96 of them in 19 of 20 recordings.
    /// Infinite where it cannot be told; a warning then says why.
    pub standard_error: f64,
}

/// What a fit tells.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Estimates {
    /// R, cmH2O·s/L.
    pub resistance_cmh2o_s_l: Estimate,
    /// C, mL/cmH2O.
    pub compliance_ml_cmh2o: Estimate,
    /// P₀, cmH2O: the pressure at volume zero. Where the volume is integrated, it is
    /// zero at the first sample. Where something drifts, it holds for the first sample.
    pub baseline_cmh2o: Estimate,
    /// R·C, s.
    pub time_constant_s: Estimate,
}

/// Where the volume came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VolumeFrom {
    /// Its own column.
    Column,
    /// The flow, integrated: [`Record::integrated`].
    Flow,
}

/// A fitted waveform.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// Samples used.
    pub samples: usize,
    /// Where the volume came from.
    pub volume_from: VolumeFrom,
    /// The volume used at each sample, mL.
    pub volume_ml: Vec<f64>,
    /// The noise of each column, as told from its samples.
    pub noise: Noise,
    /// By plain least squares, as if pressure alone were noisy.
    pub linear: Estimates,
    /// With the noise of every column: what to use.
    pub refined: Estimates,
    /// Pressure less what the refined estimates give, at each sample, cmH2O.
    pub residual_cmh2o: Vec<f64>,
    /// The root of its mean square, cmH2O.
    pub residual_sd_cmh2o: f64,
    /// How far the columns can be told apart: the largest singular value over the
    /// smallest, of volume, flow and baseline each scaled to length 1.
    pub condition: f64,
    /// Correlation of each residual, freed of what the noise explains, with the next.
    pub likeness: f64,
    /// How the pressure drifts beside the equation, cmH2O/s: by a zero of the flow that is
    /// off, added up in the volume, or by its own.
    pub drift_cmh2o_s: Estimate,
    /// How the integrated flow parts from a volume that has its own column, mL/s: how far
    /// the flow's zero is off, or what leaks; else 0.
    pub flow_zero_ml_s: Estimate,
    /// How far the times of samples are off, as told from an integrated volume: a standard
    /// deviation, s; 0 where nothing speaks for it.
    pub jitter_s: f64,
    /// The part of each standard error, of the values in their order, that comes from
    /// pressure and flow written in steps: 0 to 1.
    pub of_steps: [f64; 4],
    /// Terms that the equation lacks and for which the samples speak.
    pub offers: Vec<Offer>,
    /// What to keep in mind.
    pub warnings: Vec<Warning>,
}

/// A waveform that tells nothing.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum FitError {
    /// Too few samples.
    #[error("{0} samples: at least {FEWEST_SAMPLES} are needed; take several breaths")]
    TooFew(usize),
    /// The columns are not of one length.
    #[error("the columns differ in length")]
    Lengths,
    /// A value is not a finite number.
    #[error("sample {0} holds something that is no number")]
    NotFinite(usize),
    /// Time does not rise.
    #[error("time does not rise at sample {0}: sort the samples by time")]
    Time(usize),
    /// The flow is the same throughout.
    #[error(
        "the flow is the same throughout ({mean_ml_s:.1} mL/s, give or take its noise), so \
         resistance and baseline cannot be told apart: take whole breaths, expiration included"
    )]
    ConstantFlow {
        /// Its mean, mL/s.
        mean_ml_s: f64,
    },
    /// The volume hardly changes.
    #[error(
        "the volume changes by no more than {range_ml:.3} mL, so compliance cannot be told: take \
         whole breaths"
    )]
    ConstantVolume {
        /// Its range, mL.
        range_ml: f64,
    },
    /// Volume and flow rise and fall together, to the last digit.
    #[error(
        "volume, flow and a constant cannot be told apart in these samples (condition \
         {condition:.1e}): take whole breaths, expiration included"
    )]
    CannotTell {
        /// See [`Fit::condition`].
        condition: f64,
    },
}

/// Fits the equation of motion to a waveform.
///
/// # Errors
/// [`FitError`] where the samples cannot tell resistance, compliance and baseline
/// apart, with what would help.
pub fn fit(record: &Record) -> Result<Fit, FitError> {
    record.check()?;
    let (volume_ml, volume_from) = match &record.volume_ml {
        Some(volume) => (volume.clone(), VolumeFrom::Column),
        None => (record.integrated(), VolumeFrom::Flow),
    };
    let (noise, steps) = Noise::with_steps(record);
    check_changes(record, &volume_ml, &noise)?;
    let design = linear::Design { record, volume_ml: &volume_ml };
    let condition = design.condition();
    // Beyond this nothing but rounding tells them apart.
    const MOST_CONDITION: f64 = 1e7;
    let plain = (condition < MOST_CONDITION).then(|| linear::fit(&design)).flatten();
    let plain = plain.ok_or(FitError::CannotTell { condition })?;
    let found = refine::refine(&design, volume_from, &noise, &plain);

    let mut refined = found.as_ref().map_or(plain, |found| found.solution);
    let flow_zero_ml_s = flow_zero(record, &noise);
    let mut of_steps = [0.0; 4];
    if let Some(found) = &found {
        let by_noise = refined.covariance;
        refined.add(&steps::spread(found, record, volume_from, steps));
        of_steps = std::array::from_fn(|i| {
            let all = refined.covariance[i][i].max(f64::MIN_POSITIVE);
            (1.0 - by_noise[i][i] / all).max(0.0).sqrt()
        });
        refined.add(&of_zero(refined.values, flow_zero_ml_s));
    }
    let residual_cmh2o = design.residuals(&refined.values);
    let n = residual_cmh2o.len() as f64;
    let square: f64 = residual_cmh2o.iter().map(|r| r * r).sum();
    let offers = found.as_ref().map_or_else(Vec::new, |found| offer::offers(found, &refined));
    let untold = found.is_none() && noise.pressure_cmh2o > 0.0;
    let mut fit = Fit {
        samples: residual_cmh2o.len(),
        volume_from,
        linear: plain.estimates(),
        refined: refined.estimates(),
        residual_cmh2o,
        residual_sd_cmh2o: (square / n).sqrt(),
        condition,
        likeness: refined.likeness,
        drift_cmh2o_s: Estimate {
            value: refined.values[3],
            standard_error: root(refined.covariance[3][3]),
        },
        flow_zero_ml_s,
        jitter_s: found.as_ref().map_or(0.0, |found| found.whitener.jitter.sqrt()),
        of_steps,
        offers,
        warnings: Vec::new(),
        noise,
        volume_ml,
    };
    fit.warnings = warning::warnings(&fit, record, untold);
    Ok(fit)
}

/// How the integrated flow parts from a volume of its own, mL/s.
fn flow_zero(record: &Record, noise: &Noise) -> Estimate {
    let Some(volume) = &record.volume_ml else { return Estimate::default() };
    let apart: Vec<f64> = record.integrated().iter().zip(volume).map(|(a, b)| a - b).collect();
    let lasts_s = record.time_s[record.time_s.len() - 1] - record.time_s[0];
    let own = noise.volume_ml * noise.volume_ml * 12.0 / apart.len() as f64;
    // The slope of a walk has 6/5 of the variance of its ends'.
    let variance = (1.2 * Whitener::walked(record, noise) + own) / (lasts_s * lasts_s);
    Estimate { value: warning::slope(record, &apart), standard_error: variance.sqrt() }
}

/// What a zero of the flow that may be off does to the baseline: R times as much. How far
/// it may be off is told by what drifts and by [`flow_zero`]. Whether the pressure's own
/// zero drifts instead cannot be told, so the baseline is not moved but its error enlarged.
fn of_zero([r, e, _, drift]: Values, flow_zero: Estimate) -> Matrix<4> {
    let Estimate { value, standard_error } = flow_zero;
    let by_volume = (value * value + standard_error * standard_error).sqrt();
    let off = r * by_volume.max((drift / e).abs());
    let mut covariance = [[0.0; 4]; 4];
    covariance[2][2] = off * off;
    covariance
}

fn check_changes(record: &Record, volume_ml: &[f64], noise: &Noise) -> Result<(), FitError> {
    let n = record.flow_ml_s.len() as f64;
    let mean_ml_s = record.flow_ml_s.iter().sum::<f64>() / n;
    let square: f64 = record.flow_ml_s.iter().map(|q| (q - mean_ml_s) * (q - mean_ml_s)).sum();
    let sd = (square / n).sqrt();
    if sd <= (2.0 * noise.flow_ml_s).max(1e-9 * mean_ml_s.abs()) {
        return Err(FitError::ConstantFlow { mean_ml_s });
    }
    let least = volume_ml.iter().copied().fold(f64::INFINITY, f64::min);
    let most = volume_ml.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let range_ml = most - least;
    if range_ml <= (10.0 * noise.volume_ml).max(1e-9) {
        return Err(FitError::ConstantVolume { range_ml });
    }
    Ok(())
}

/// Resistance [cmH2O·s/mL], elastance [cmH2O/mL], baseline [cmH2O] and drift [cmH2O/s].
type Values = [f64; 4];

/// Values with their covariance.
#[derive(Clone, Copy, Debug)]
struct Solution {
    values: Values,
    covariance: Matrix<4>,
    likeness: f64,
}

impl Solution {
    fn add(&mut self, more: &Matrix<4>) {
        for (row, more) in self.covariance.iter_mut().zip(more) {
            row.iter_mut().zip(more).for_each(|(here, more)| *here += more);
        }
    }

    fn estimates(&self) -> Estimates {
        let [r, e, p0, _] = self.values;
        let v = &self.covariance;
        let estimate = |value: f64, error: f64| Estimate { value, standard_error: error };
        // Of C = 1/E and of R/E, by their derivatives.
        let (dr, de) = (1.0 / e, -r / (e * e));
        let of_product = dr * dr * v[0][0] + 2.0 * dr * de * v[0][1] + de * de * v[1][1];
        Estimates {
            resistance_cmh2o_s_l: estimate(1e3 * r, 1e3 * root(v[0][0])),
            compliance_ml_cmh2o: estimate(1.0 / e, root(v[1][1]) / (e * e)),
            baseline_cmh2o: estimate(p0, root(v[2][2])),
            time_constant_s: estimate(r / e, root(of_product)),
        }
    }
}

/// A standard error; infinite where the variance cannot be told.
fn root(variance: f64) -> f64 {
    if variance.is_finite() { variance.max(0.0).sqrt() } else { f64::INFINITY }
}

#[cfg(test)]
mod tests {
    use tidewright::math::{cos, sin};
    use tidewright::random::{generator, standard_normal};

    use super::*;

    /// 400 recordings of one lung, with noise of 0.2 cmH2O: the estimates scatter as their
    /// standard errors say. The scatter of 400 is known to within 1/√800 of itself.
    #[test]
    fn closed_form_standard_errors_are_the_scatter_of_many_recordings() {
        let mut random = generator(5);
        let fits: Vec<Fit> = (0..400)
            .map(|_| {
                let mut record = Record::default();
                for k in 0..300 {
                    let t = f64::from(k) * 0.01;
                    let (flow, volume) = (40.0 * sin(6.0 * t), 40.0 / 6.0 * (1.0 - cos(6.0 * t)));
                    let pressure = volume / 5.0 + 0.020 * flow + 3.0;
                    record.time_s.push(t);
                    record.flow_ml_s.push(flow);
                    record.pressure_cmh2o.push(pressure + 0.2 * standard_normal(&mut random));
                    record.volume_ml.get_or_insert_default().push(volume);
                }
                fit(&record).expect("a fit")
            })
            .collect();
        type Of = fn(&Estimates) -> Estimate;
        let of_each: [(Of, f64); 4] = [
            (|e| e.resistance_cmh2o_s_l, 20.0),
            (|e| e.compliance_ml_cmh2o, 5.0),
            (|e| e.baseline_cmh2o, 3.0),
            (|e| e.time_constant_s, 0.1),
        ];
        let roads: [fn(&Fit) -> &Estimates; 2] = [|fit| &fit.linear, |fit| &fit.refined];
        for road in roads {
            for (of, truth) in of_each {
                let n = fits.len() as f64;
                let square = |fit: &Fit| {
                    let off = of(road(fit)).value - truth;
                    off * off
                };
                let scatter = (fits.iter().map(square).sum::<f64>() / n).sqrt();
                let told = fits.iter().map(|fit| of(road(fit)).standard_error).sum::<f64>() / n;
                assert!((told / scatter - 1.0).abs() < 0.15, "{told} for {scatter} around {truth}");
            }
        }
    }
}
