//! How noisy each column is, told from the column itself.

use super::Record;
use super::steps::step_of;

/// The noise of each column: its standard deviation from sample to sample.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Noise {
    /// Of the pressure, cmH2O.
    pub pressure_cmh2o: f64,
    /// Of the flow, mL/s.
    pub flow_ml_s: f64,
    /// Of the volume where it has its own column, mL; else 0.
    pub volume_ml: f64,
}

impl Noise {
    /// From the third differences of neighbouring samples, which a smooth signal
    /// leaves small: noise of variance σ² gives them 20σ². Their mean square is
    /// taken of those within four standard deviations, as told by their median
    /// absolute value, so that the few across a jump do not count. At least a
    /// millionth of the range, finer than any recorder.
    #[must_use]
    pub fn of(record: &Record) -> Self {
        Self::with_steps(record).0
    }

    /// With the steps in which pressure and flow are written, each with the noise of its
    /// column; a step δ makes noise of δ/√12 at least.
    pub(super) fn with_steps(record: &Record) -> (Self, [Option<(f64, f64)>; 2]) {
        let with_step = |values: &[f64]| {
            let step = step_of(values);
            let noise = of_column(values).max(step.unwrap_or(0.0) / 12.0_f64.sqrt());
            (noise, step.map(|step| (step, noise)))
        };
        let (pressure_cmh2o, of_pressure) = with_step(&record.pressure_cmh2o);
        let (flow_ml_s, of_flow) = with_step(&record.flow_ml_s);
        let volume_ml = record.volume_ml.as_deref().map_or(0.0, |volume| with_step(volume).0);
        (Self { pressure_cmh2o, flow_ml_s, volume_ml }, [of_pressure, of_flow])
    }
}

/// Quantile of the normal distribution at 3/4.
const THREE_QUARTERS: f64 = 0.674_489_750_196_081_7;

/// No recorder tells more than so small a part of its range.
const FINEST: f64 = 1e-6;
/// Differences beyond so many standard deviations are jumps.
const MOST_SD: f64 = 4.0;

fn of_column(values: &[f64]) -> f64 {
    let third = |w: &[f64]| ((w[3] - w[0]) - 3.0 * (w[2] - w[1])).abs();
    let mut differences: Vec<f64> = values.windows(4).map(third).collect();
    if differences.is_empty() {
        return 0.0;
    }
    let middle = differences.len() / 2;
    let (_, median, _) = differences.select_nth_unstable_by(middle, f64::total_cmp);
    let most = MOST_SD * *median / THREE_QUARTERS;
    let kept = || differences.iter().filter(|&&difference| difference <= most);
    let square: f64 = kept().map(|difference| difference * difference).sum();
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let largest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (square / (20.0 * kept().count() as f64)).sqrt().max(FINEST * (largest - least))
}

#[cfg(test)]
mod tests {
    use tidewright::random::{generator, standard_normal};

    use super::*;

    #[test]
    fn closed_form_the_noise_of_a_wave_with_jumps_is_found() {
        let mut random = generator(3);
        let wave = |k: i32| {
            let breath = f64::from(k % 250) * 0.01;
            if breath < 1.0 { 30.0 } else { -90.0 * tidewright::math::exp((1.0 - breath) / 0.15) }
        };
        let values: Vec<f64> =
            (0..4000).map(|k| wave(k) + 0.8 * standard_normal(&mut random)).collect();
        let found = of_column(&values);
        // The mean square of 4,000 third differences is known to about √(2·2.31/4000).
        assert!((found / 0.8 - 1.0).abs() < 0.05, "{found}");
        let clean: Vec<f64> = (0..4000).map(wave).collect();
        assert!(of_column(&clean) < 0.01, "{}", of_column(&clean));
    }
}
