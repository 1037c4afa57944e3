//! A recorded waveform in the units of the fit.

use super::{FEWEST_SAMPLES, FitError};

/// Samples of pressure and flow at the airway of one patient.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Record {
    /// Times, rising, s.
    pub time_s: Vec<f64>,
    /// Pressure at the airway, cmH2O.
    pub pressure_cmh2o: Vec<f64>,
    /// Flow into the patient, mL/s; negative on its way out.
    pub flow_ml_s: Vec<f64>,
    /// Volume of gas in the lung above any one level, mL; integrated from the flow
    /// where there is none.
    pub volume_ml: Option<Vec<f64>>,
}

impl Record {
    /// The samples from one time to another, both included.
    #[must_use]
    pub fn between(&self, from_s: f64, to_s: f64) -> Self {
        let keep = |values: &[f64]| {
            let samples = values.iter().zip(&self.time_s);
            let kept = samples.filter(|(_, time)| (from_s..=to_s).contains(*time));
            kept.map(|(value, _)| *value).collect()
        };
        Self {
            time_s: keep(&self.time_s),
            pressure_cmh2o: keep(&self.pressure_cmh2o),
            flow_ml_s: keep(&self.flow_ml_s),
            volume_ml: self.volume_ml.as_deref().map(keep),
        }
    }

    /// The flow integrated from 0 at the first sample, mL.
    ///
    /// By the trapezoidal rule less h³·Q″/12, with Q″ the bend of the flow at both ends
    /// of the step, as their harmonic mean: where they bend in opposite ways or one much
    /// more than the other, the flow jumps, and the rule is left as it is.
    #[must_use]
    pub fn integrated(&self) -> Vec<f64> {
        let bend = |i: usize| {
            let (t, q) = (self.time_s.get(i..i + 3)?, self.flow_ml_s.get(i..i + 3)?);
            let pace = |k: usize| (q[k + 1] - q[k]) / (t[k + 1] - t[k]);
            Some(2.0 * (pace(1) - pace(0)) / (t[2] - t[0]))
        };
        let mut volume = 0.0;
        let mut before = bend(0);
        let steps = self.time_s.windows(2).zip(self.flow_ml_s.windows(2)).enumerate();
        let later = steps.map(|(i, (t, q))| {
            let after = bend(i).or(before);
            let (a, b) = (before.unwrap_or(0.0), after.unwrap_or(0.0));
            let smooth = if a * b > 0.0 { 2.0 * a * b / (a + b) } else { 0.0 };
            before = after;
            let h = t[1] - t[0];
            volume += 0.5 * h * (q[0] + q[1]) - h * h * h * smooth / 12.0;
            volume
        });
        std::iter::once(0.0).chain(later).collect()
    }

    pub(super) fn check(&self) -> Result<(), FitError> {
        let n = self.time_s.len();
        let columns = || [&self.pressure_cmh2o, &self.flow_ml_s].into_iter().chain(&self.volume_ml);
        if columns().any(|column| column.len() != n) {
            return Err(FitError::Lengths);
        }
        if n < FEWEST_SAMPLES {
            return Err(FitError::TooFew(n));
        }
        let finite =
            |k: usize| self.time_s[k].is_finite() && columns().all(|column| column[k].is_finite());
        if let Some(k) = (0..n).find(|&k| !finite(k)) {
            return Err(FitError::NotFinite(k + 1));
        }
        match self.time_s.windows(2).position(|w| w[1] <= w[0]) {
            Some(k) => Err(FitError::Time(k + 2)),
            None => Ok(()),
        }
    }
}
