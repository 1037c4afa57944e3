//! What the gas of a run adds up to: what a patient was spared or not.

use super::GasStretch;
use crate::base::quantity::PartialPressure;

/// What counts as outside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GasLimits {
    /// End-tidal carbon dioxide below this is too low.
    pub lowest_end_tidal: PartialPressure,
    /// End-tidal carbon dioxide above this is too high.
    pub highest_end_tidal: PartialPressure,
    /// Arterial saturation below this is too low, 0 to 1.
    pub lowest_saturation: f64,
}

impl Default for GasLimits {
    /// 35 to 45 mmHg, and 90 % (common practice, no source).
    fn default() -> Self {
        Self {
            lowest_end_tidal: PartialPressure::mmhg(35.0),
            highest_end_tidal: PartialPressure::mmhg(45.0),
            lowest_saturation: 0.9,
        }
    }
}

/// Times outside limits, and extremes, of the stretches taken so far. Plain data.
///
/// A breath counts as a whole by its end-tidal value; saturation counts point by
/// point. The breath under way is not yet judged, and a cycle of the ventilator that
/// brings no gas to the lung is no breath.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GasTotals {
    /// What counts as outside.
    pub limits: GasLimits,
    /// Breaths judged.
    pub breaths: u64,
    /// Time that they took, s.
    pub breaths_s: f64,
    /// Time of breaths whose end-tidal carbon dioxide was too low, s.
    pub end_tidal_below_s: f64,
    /// Time of breaths whose end-tidal carbon dioxide was too high, s.
    pub end_tidal_above_s: f64,
    /// Time with a saturation that was too low, s.
    pub desaturated_s: f64,
    /// Highest end-tidal carbon dioxide, mmHg.
    pub highest_end_tidal_mmhg: Option<f64>,
    /// Lowest end-tidal carbon dioxide, mmHg.
    pub lowest_end_tidal_mmhg: Option<f64>,
    /// Highest mean inspired carbon dioxide, mmHg.
    pub highest_inspired_mmhg: Option<f64>,
    /// Highest arterial carbon dioxide, mmHg.
    pub highest_arterial_mmhg: Option<f64>,
    /// Lowest arterial carbon dioxide, mmHg.
    pub lowest_arterial_mmhg: Option<f64>,
    /// Lowest arterial saturation, 0 to 1.
    pub lowest_saturation: Option<f64>,
    /// Longest time from the start of a breath that reached the lung to the start of
    /// the next, or to now, s.
    pub longest_without_breath_s: f64,
    breath_since_s: f64,
}

impl GasTotals {
    /// Nothing yet.
    #[must_use]
    pub fn new(limits: GasLimits) -> Self {
        Self {
            limits,
            breaths: 0,
            breaths_s: 0.0,
            end_tidal_below_s: 0.0,
            end_tidal_above_s: 0.0,
            desaturated_s: 0.0,
            highest_end_tidal_mmhg: None,
            lowest_end_tidal_mmhg: None,
            highest_inspired_mmhg: None,
            highest_arterial_mmhg: None,
            lowest_arterial_mmhg: None,
            lowest_saturation: None,
            longest_without_breath_s: 0.0,
            breath_since_s: 0.0,
        }
    }

    /// Takes the next stretch.
    pub fn take(&mut self, stretch: &GasStretch) {
        for breath in stretch.breaths.iter().filter(|breath| breath.reaches_lung) {
            let lasted_s = breath.duration.as_s();
            let end_tidal = breath.end_tidal_carbon_dioxide;
            self.breaths += 1;
            self.breaths_s += lasted_s;
            if end_tidal < self.limits.lowest_end_tidal {
                self.end_tidal_below_s += lasted_s;
            } else if end_tidal > self.limits.highest_end_tidal {
                self.end_tidal_above_s += lasted_s;
            }
            let inspired = breath.mean_inspired_carbon_dioxide.as_mmhg();
            keep(&mut self.highest_end_tidal_mmhg, end_tidal.as_mmhg(), f64::max);
            keep(&mut self.lowest_end_tidal_mmhg, end_tidal.as_mmhg(), f64::min);
            keep(&mut self.highest_inspired_mmhg, inspired, f64::max);
        }
        for point in &stretch.points {
            if point.saturation < self.limits.lowest_saturation {
                self.desaturated_s += point.step_s;
            }
            let arterial = point.arterial_carbon_dioxide_mmhg;
            keep(&mut self.lowest_saturation, point.saturation, f64::min);
            keep(&mut self.highest_arterial_mmhg, arterial, f64::max);
            keep(&mut self.lowest_arterial_mmhg, arterial, f64::min);
        }
        let mut quiet_s = stretch.breath_since_s - self.breath_since_s;
        self.breath_since_s = stretch.breath_since_s;
        if let Some(last) = stretch.points.last() {
            quiet_s = quiet_s.max(last.at_s - self.breath_since_s);
        }
        self.longest_without_breath_s = self.longest_without_breath_s.max(quiet_s);
    }
}

fn keep(kept: &mut Option<f64>, new: f64, better: fn(f64, f64) -> f64) {
    *kept = Some(kept.map_or(new, |old| better(old, new)));
}
