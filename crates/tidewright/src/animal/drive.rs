//! The drive to breathe: how much a patient wants to breathe at its arterial
//! carbon dioxide, and the effort that takes.
//!
//! Nothing here runs by itself: ask for the next breath, set its effort, run the
//! engine for its period, ask again. [`crate::coupled`] does that.
//!
//! ```
//! use tidewright::drive::Drive;
//! use tidewright::prelude::*;
//! use tidewright::species::{Animal, Species};
//! let dog = Animal::typical(Species::Dog, Mass::kg(20.0));
//! let drive = Drive::of(&dog, 0.8);
//! let breath = drive.next_breath(PartialPressure::mmhg(50.0)).unwrap();
//! let effort = breath.effort(&dog);
//! assert!(!effort.segments.is_empty());
//! // Below its threshold it does not breathe.
//! assert!(drive.next_breath(PartialPressure::mmhg(30.0)).is_none());
//! ```

use crate::math::{cos, exp, sin};
use crate::quantity::{Compliance, Flow, PartialPressure, Pressure, Resistance, Seconds, Volume};
use crate::setup::Effort;
use crate::species::{Animal, Parameter, State};

/// How far the apnoeic threshold lies below the usual arterial carbon dioxide,
/// mmHg: 37.0 less 34.4 in awake dogs (Posthyperventilation apnea in awake dogs
/// during metabolic acidosis and hypoxia, abstract).
pub const THRESHOLD_BELOW_USUAL_MMHG: f64 = 2.6;

/// How far full depth of anaesthesia raises the threshold, mmHg; a teaching choice.
pub const DEPTH_RAISES_THRESHOLD_MMHG: f64 = 10.0;

/// Part of a breath's period that is inspiration; a teaching choice.
pub const INSPIRATORY_PART: f64 = 0.4;

/// The response of ventilation to arterial carbon dioxide: a straight line from a
/// threshold.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Drive {
    /// Arterial carbon dioxide below which there is no breath.
    pub threshold: PartialPressure,
    /// Minute volume for each mmHg above it, mL/min.
    pub slope_ml_min_mmhg: f64,
    /// Usual tidal volume.
    pub tidal_volume: Volume,
    /// Usual breaths, 1/min.
    pub rate_per_min: f64,
    /// Depth of anaesthesia that it belongs to, 0 to 1.
    pub depth: f64,
}

/// A breath that a patient wants to take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OwnBreath {
    /// Its tidal volume.
    pub tidal_volume: Volume,
    /// From its start to the start of the next.
    pub period: Seconds,
}

impl Drive {
    /// The drive of an animal at a depth of anaesthesia from 0 (awake) to 1 (no
    /// drive is left). A depth outside is held to that.
    ///
    /// Awake, the line meets the usual minute volume at the usual arterial carbon
    /// dioxide; a 20 kg dog has 1.6 L/min/mmHg by that (1.49 in the awake dogs of
    /// the abstract cited above, their weights not given). Depth lowers the slope
    /// in proportion and raises the threshold: teaching choices.
    #[must_use]
    pub fn of(animal: &Animal, depth: f64) -> Self {
        let depth = depth.clamp(0.0, 1.0);
        let mut awake = animal.clone();
        awake.condition.state = State::Awake;
        let minute_volume = awake.value(Parameter::TidalVolume) * awake.value(Parameter::Rate);
        let usual = animal.value(Parameter::ArterialCarbonDioxide);
        let threshold = usual - THRESHOLD_BELOW_USUAL_MMHG + DEPTH_RAISES_THRESHOLD_MMHG * depth;
        Self {
            threshold: PartialPressure::mmhg(threshold),
            slope_ml_min_mmhg: minute_volume / THRESHOLD_BELOW_USUAL_MMHG * (1.0 - depth),
            tidal_volume: Volume::ml(animal.value(Parameter::TidalVolume)),
            rate_per_min: animal.value(Parameter::Rate),
            depth,
        }
    }

    /// Minute volume wanted at an arterial carbon dioxide.
    #[must_use]
    pub fn minute_volume(&self, arterial: PartialPressure) -> Flow {
        let above = (arterial.as_mmhg() - self.threshold.as_mmhg()).max(0.0);
        Flow::ml_s(self.slope_ml_min_mmhg * above / 60.0)
    }

    /// Arterial carbon dioxide at which the usual minute volume is wanted: where a
    /// patient that breathes by itself may begin. Never where no drive is left.
    #[must_use]
    pub fn usual_arterial(&self) -> Option<PartialPressure> {
        let above = self.tidal_volume.as_ml() * self.rate_per_min / self.slope_ml_min_mmhg;
        above.is_finite().then(|| PartialPressure::mmhg(self.threshold.as_mmhg() + above))
    }

    /// The next breath at an arterial carbon dioxide; `None` in apnoea, which is
    /// less than a tenth of the usual minute volume.
    ///
    /// Depth and rate share a change of minute volume: each follows its square
    /// root (a teaching choice).
    #[must_use]
    pub fn next_breath(&self, arterial: PartialPressure) -> Option<OwnBreath> {
        let usual_ml_min = self.tidal_volume.as_ml() * self.rate_per_min;
        let ratio = self.minute_volume(arterial).as_ml_s() * 60.0 / usual_ml_min;
        if ratio < 0.1 {
            return None;
        }
        let share = ratio.sqrt().min(MOST_OF_USUAL);
        Some(OwnBreath {
            tidal_volume: self.tidal_volume * share,
            period: Seconds::s(60.0 / (self.rate_per_min * share)),
        })
    }
}

/// No breath is deeper, nor rate higher, than so many times the usual.
const MOST_OF_USUAL: f64 = 3.0;

impl OwnBreath {
    /// The effort for one such breath of an animal, then rest until its period is
    /// over: a half-sine of muscle pressure against the animal's typical compliance
    /// and resistance.
    #[must_use]
    pub fn effort(&self, animal: &Animal) -> Effort {
        Effort::breaths(self.amplitude(animal), self.inspiration(), self.period)
    }

    /// How long it draws in.
    #[must_use]
    pub fn inspiration(&self) -> Seconds {
        self.period * INSPIRATORY_PART
    }

    /// The height of the half-sine of [`OwnBreath::effort`].
    #[must_use]
    pub fn amplitude(&self, animal: &Animal) -> Pressure {
        let inspiration = self.inspiration();
        let peak_flow = Flow::ml_s(2.0 * self.tidal_volume.as_ml() / inspiration.as_s());
        let airway = Resistance::cmh2o_s_per_l(animal.value(Parameter::AirwayResistance));
        let resistance = match animal.condition.state {
            State::Awake => airway,
            State::Anaesthetised => airway + animal.tube().resistance_at(peak_flow),
        };
        let compliance = Compliance::ml_per_cmh2o(animal.value(Parameter::Compliance));
        half_sine_amplitude(self.tidal_volume, inspiration, compliance, resistance)
    }
}

/// Amplitude of a half-sine of muscle pressure that draws a tidal volume into a
/// lung of one compliance and resistance.
///
/// With a = ω·R·C the volume is C·P·(sin x − a·cos x + a·e^(−x/a))/(1 + a²) at
/// x = ω·t; it is largest where it meets C·P·sin x, after the middle.
#[must_use]
pub fn half_sine_amplitude(
    tidal_volume: Volume,
    inspiration: Seconds,
    compliance: Compliance,
    resistance: Resistance,
) -> Pressure {
    use std::f64::consts::PI;
    let a = PI / inspiration.as_s() * (resistance * compliance).as_s();
    let response = |x: f64| {
        let faded = if a > 0.0 { a * exp(-x / a) } else { 0.0 };
        (sin(x) - a * cos(x) + faded) / (1.0 + a * a)
    };
    // By Newton's method, kept inside a bracket that shrinks.
    let (mut low, mut high) = (PI / 2.0, PI);
    let mut x = low + (a / (1.0 + a)) * (high - low);
    for _ in 0..60 {
        let (sine, cosine) = (sin(x), cos(x));
        let faded = if a > 0.0 { exp(-x / a) } else { 0.0 };
        let miss = sine - (sine - a * cosine + a * faded) / (1.0 + a * a);
        if miss > 0.0 {
            low = x;
        } else {
            high = x;
        }
        let slope = cosine - (cosine + a * sine - faded) / (1.0 + a * a);
        let newton = x - miss / slope;
        if (newton - x).abs() < 1e-14 {
            break;
        }
        x = if newton > low && newton < high { newton } else { (low + high) / 2.0 };
    }
    Pressure::cmh2o(tidal_volume.as_ml() / (compliance.as_ml_per_cmh2o() * response(x)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Mass;
    use crate::species::Species;

    #[test]
    fn closed_form_awake_drive_meets_the_usual_minute_volume() {
        for species in Species::ALL {
            let mut animal = Animal::typical(species, Mass::kg(2.0));
            animal.condition.state = State::Awake;
            let drive = Drive::of(&animal, 0.0);
            let usual = PartialPressure::mmhg(animal.value(Parameter::ArterialCarbonDioxide));
            let breath = drive.next_breath(usual).unwrap();
            let tidal = animal.value(Parameter::TidalVolume);
            assert!((breath.tidal_volume.as_ml() / tidal - 1.0).abs() < 1e-12, "{species}");
            let rate = 60.0 / breath.period.as_s();
            assert!((rate / animal.value(Parameter::Rate) - 1.0).abs() < 1e-12, "{species}");
        }
    }

    /// 1.49 L/min/mmHg in awake dogs (abstract; weights not given, so a wide band).
    #[test]
    fn published_slope_of_awake_dogs() {
        let slope =
            Drive::of(&Animal::typical(Species::Dog, Mass::kg(20.0)), 0.0).slope_ml_min_mmhg;
        assert!((750.0..3000.0).contains(&slope), "{slope}");
    }

    #[test]
    fn full_depth_leaves_no_breath() {
        let drive = Drive::of(&Animal::typical(Species::Cat, Mass::kg(4.0)), 1.0);
        assert!(drive.next_breath(PartialPressure::mmhg(150.0)).is_none());
    }

    #[test]
    fn closed_form_amplitude_without_resistance_is_volume_over_compliance() {
        let amplitude = half_sine_amplitude(
            Volume::ml(30.0),
            Seconds::s(1.0),
            Compliance::ml_per_cmh2o(6.0),
            Resistance::ZERO,
        );
        assert!((amplitude.as_cmh2o() - 5.0).abs() < 1e-9);
    }
}
