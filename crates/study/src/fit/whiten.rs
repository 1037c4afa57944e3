//! Residuals made independent, each of variance 1.

use super::linear::Design;
use super::{Noise, Values, VolumeFrom};

/// A jump of the flow beyond so many standard deviations is no noise.
const JUMP_SD: f64 = 4.0;

/// Makes residuals independent and of variance 1.
pub(super) struct Whitener<'a> {
    pub design: &'a Design<'a>,
    /// Variance of the pressure's own noise.
    pressure: f64,
    volume: f64,
    pub flow: f64,
    /// For each step between samples, where the volume is integrated.
    pub steps: Option<Vec<Step>>,
    /// Variance of the error of a sample's time, s².
    pub jitter: f64,
    /// Small changes of each value, for derivatives.
    change: Values,
}

/// From one sample to the next.
pub(super) struct Step {
    h_s: f64,
    /// Variance of the volume for a jump of the flow within it, mL².
    pub jump: f64,
    /// Whether that is far beyond noise.
    certain: bool,
    /// Square of the change of flow, (mL/s)².
    change: f64,
}

impl<'a> Whitener<'a> {
    /// `None` where nothing is noisy: then the plain solution is as good.
    pub fn new(design: &'a Design<'a>, volume_from: VolumeFrom, noise: &Noise) -> Option<Self> {
        let square = |x: f64| x * x;
        let pressure = square(noise.pressure_cmh2o);
        if pressure <= 0.0 {
            return None;
        }
        let spread = |values: &[f64]| values.iter().map(|x| x.abs()).fold(1e-9, f64::max);
        let record = design.record;
        let steps =
            (volume_from == VolumeFrom::Flow).then(|| steps(record, noise.flow_ml_s).collect());
        // A change that moves the pressure by a hundredth of its noise.
        let small = 0.01 * noise.pressure_cmh2o;
        let change = [
            small / spread(&record.flow_ml_s),
            small / spread(design.volume_ml),
            small,
            small / design.lasts_s().max(1e-9),
        ];
        let (volume, flow) = (square(noise.volume_ml), square(noise.flow_ml_s));
        Some(Self { design, pressure, volume, flow, steps, jitter: 0.0, change })
    }

    /// The residuals of values, made independent, and the sum of the logarithms of
    /// their variances.
    pub fn whiten(&self, values: &Values) -> (Vec<f64>, f64) {
        self.filtered(self.design.residuals(values), values)
    }

    /// Any column, as the residuals of these values are: with them in their places, this
    /// is linear.
    pub fn filtered(&self, mut residuals: Vec<f64>, values: &Values) -> (Vec<f64>, f64) {
        let [r, e, ..] = *values;
        let Some(steps) = &self.steps else {
            let variance = self.pressure + r * r * self.flow + e * e * self.volume;
            let sd = variance.sqrt();
            residuals.iter_mut().for_each(|residual| *residual /= sd);
            let logarithms = residuals.len() as f64 * tidewright::math::ln(variance);
            return (residuals, logarithms);
        };
        // The state is the error of the volume and the noise of the flow at this sample:
        // residual = −E·w − R·ε + η, and w grows by h/2·(ε before + ε now) and by jumps.
        let (mut w, mut eps) = (0.0, 0.0);
        let (mut ww, mut we, mut ee) = (0.0, 0.0, self.flow);
        let mut logarithms = 0.0;
        let steps = std::iter::once(None).chain(steps.iter().map(Some));
        let flows = &self.design.record.flow_ml_s;
        for ((residual, step), flow) in residuals.iter_mut().zip(steps).zip(flows) {
            if let Some(step) = step {
                let half = 0.5 * step.h_s;
                w += half * eps;
                ww += 2.0 * half * we + half * half * (ee + self.flow);
                ww += step.jump + self.jitter * step.change;
                (eps, we, ee) = (0.0, half * self.flow, self.flow);
            }
            // A time that is off by δ puts Q·δ into the volume at this sample alone.
            let own = self.pressure + self.jitter * (e * flow) * (e * flow);
            let (to_w, to_e) = (-(e * ww + r * we), -(e * we + r * ee));
            let variance = own - e * to_w - r * to_e;
            let surprise = *residual + e * w + r * eps;
            let (gain_w, gain_e) = (to_w / variance, to_e / variance);
            w += gain_w * surprise;
            eps += gain_e * surprise;
            ww -= gain_w * to_w;
            we -= gain_w * to_e;
            ee -= gain_e * to_e;
            *residual = surprise / variance.sqrt();
            logarithms += tidewright::math::ln(variance);
        }
        (residuals, logarithms)
    }

    /// Whether a sample stands behind a jump of the flow: its variance is a bound.
    pub fn behind_jump(&self, sample: usize) -> bool {
        let step = self.steps.as_ref().zip(sample.checked_sub(1));
        step.is_some_and(|(steps, before)| steps[before].certain)
    }

    /// ∂(white residuals)/∂(values), by central differences.
    pub fn derivatives(&self, values: &Values) -> [Vec<f64>; 4] {
        std::array::from_fn(|i| {
            let turned = |by: f64| {
                let mut values = *values;
                values[i] += by;
                self.whiten(&values).0
            };
            let (less, more) = (turned(-self.change[i]), turned(self.change[i]));
            let pace = |(more, less): (f64, f64)| (more - less) / (2.0 * self.change[i]);
            more.into_iter().zip(less).map(pace).collect()
        })
    }

    /// The variance of the volume that noise and jumps of the flow have added up to at
    /// the end, mL².
    pub fn walked(record: &super::Record, noise: &Noise) -> f64 {
        let flow = noise.flow_ml_s * noise.flow_ml_s;
        steps(record, noise.flow_ml_s).map(|step| step.jump + step.h_s * step.h_s * flow).sum()
    }
}

/// How much the flow jumps within each step: half the change of its second difference
/// from one end to the other, less twice what noise makes of it, in squares. A jump at any
/// time within a step, evenly spread, is of variance h²/12 in the volume.
fn steps(record: &super::Record, noise: f64) -> impl Iterator<Item = Step> {
    let (time, flow) = (&record.time_s, &record.flow_ml_s);
    let bend = |i: usize| flow.get(i..i + 3).map(|q| q[0] - 2.0 * q[1] + q[2]);
    // Noise of variance σ² gives third differences 20σ².
    let by_noise = 5.0 * noise * noise;
    (0..flow.len().saturating_sub(1)).map(move |i| {
        let before = if i == 0 { None } else { bend(i - 1) };
        let (before, after) = (before.or(bend(i)), bend(i).or(before));
        let size = 0.5 * (after.unwrap_or(0.0) - before.unwrap_or(0.0));
        let h_s = time[i + 1] - time[i];
        let jump = (size * size - 2.0 * by_noise).max(0.0) * h_s * h_s / 12.0;
        let certain = size * size > JUMP_SD * JUMP_SD * by_noise;
        let change = (flow[i + 1] - flow[i]) * (flow[i + 1] - flow[i]);
        Step { h_s, jump, certain, change }
    })
}
