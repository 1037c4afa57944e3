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
//! let drive = Drive::of(&dog, 0.5);
//! let breath = drive.next_breath(PartialPressure::mmhg(50.0)).unwrap();
//! let effort = breath.effort(&dog);
//! assert!(!effort.segments.is_empty());
//! // Below its threshold it does not breathe.
//! assert!(drive.next_breath(PartialPressure::mmhg(30.0)).is_none());
//! ```

use super::circulation::MAC_AT_FULL_DEPTH;
use crate::animal::species::{Animal, Parameter, State};
use crate::base::math::{cos, exp, pow, sin};
use crate::base::quantity::{
    Compliance, Flow, PartialPressure, Pressure, Resistance, Seconds, Volume,
};
use crate::setup::Effort;

/// How far the apnoeic threshold lies below the usual arterial carbon dioxide,
/// mmHg: 37.0 less 34.4 in awake dogs (Posthyperventilation apnea in awake dogs
/// during metabolic acidosis and hypoxia, abstract).
pub const THRESHOLD_BELOW_USUAL_MMHG: f64 = 2.6;

/// How far full depth of anaesthesia raises the threshold, mmHg; a teaching choice.
/// That threshold and resting carbon dioxide rise alike with depth was seen in man
/// (Anesthesiology 1971;35:32, as a textbook quotes it).
pub const DEPTH_RAISES_THRESHOLD_MMHG: f64 = 10.0;

/// Slope of ventilation over carbon dioxide that each MAC leaves: 1.58 ± 0.75 of 9.75 ± 2.4
/// L/min/kPa, dogs, 1 MAC of isoflurane (Br J Anaesth 1977;49:957, abstract; 9 and 7 % of
/// halothane and enflurane there). That further MACs each do the same is assumed.
pub const SLOPE_LEFT_BY_A_MAC: f64 = 0.16;

/// Depth of anaesthesia, in MAC, up to which the answer to want of oxygen fades, and what
/// is left of it there: 952 ± 157 of 2010 ± 172, dogs, 1 MAC of isoflurane, hardly less
/// beyond (same abstract).
const HYPOXIC_LEFT: (f64, f64) = (1.0, 0.47);
/// What want of oxygen does at [`HYPOXIC_MMHG`] awake: the slope times 2.02/1.49, and the
/// threshold from 34.4 to 28.1 mmHg (three awake dogs, abstract; its oxygen pressure not
/// given).
const HYPOXIC_SLOPE: f64 = 0.36;
const HYPOXIC_THRESHOLD_MMHG: f64 = 6.3;
/// Arterial oxygen at which that is so; assumed.
const HYPOXIC_MMHG: f64 = 50.0;
/// Arterial oxygen from which on there is no want; and where the hyperbola A/(PO₂ − 32)
/// (cats, J Anesth, abstract) would have its pole, with the lowest pressure it is used at.
const NO_WANT_MMHG: f64 = 95.0;
const POLE_MMHG: f64 = 32.0;
const LOWEST_MMHG: f64 = 40.0;
/// Arterial oxygen below which breathing stops whatever the carbon dioxide: that it does
/// was seen in dogs and monkeys (an abstract whose value is cut off); the value is assumed.
const HYPOXIC_APNOEA_MMHG: f64 = 20.0;

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
    /// the abstract cited above, their weights not given). Each MAC leaves
    /// [`SLOPE_LEFT_BY_A_MAC`] of the slope, and a depth of 1, at which breathing stops,
    /// nothing; depth raises the threshold.
    #[must_use]
    pub fn of(animal: &Animal, depth: f64) -> Self {
        let depth = depth.clamp(0.0, 1.0);
        let mut awake = animal.clone();
        awake.condition.state = State::Awake;
        let minute_volume = awake.value(Parameter::TidalVolume) * awake.value(Parameter::Rate);
        let usual = animal.value(Parameter::ArterialCarbonDioxide);
        let left = match depth * MAC_AT_FULL_DEPTH {
            mac if mac < MAC_AT_FULL_DEPTH => pow(SLOPE_LEFT_BY_A_MAC, mac),
            _ => 0.0,
        };
        let threshold = usual - THRESHOLD_BELOW_USUAL_MMHG + DEPTH_RAISES_THRESHOLD_MMHG * depth;
        Self {
            threshold: PartialPressure::mmhg(threshold),
            slope_ml_min_mmhg: minute_volume / THRESHOLD_BELOW_USUAL_MMHG * left,
            tidal_volume: Volume::ml(animal.value(Parameter::TidalVolume)),
            rate_per_min: animal.value(Parameter::Rate),
            depth,
        }
    }

    /// The same drive while arterial oxygen is this low: want of oxygen steepens the line
    /// and lowers its threshold, along a hyperbola of the pressure, less so in anaesthesia;
    /// the worst want stops breathing.
    ///
    /// ```
    /// use tidewright::drive::Drive;
    /// use tidewright::prelude::*;
    /// use tidewright::species::{Animal, Species};
    /// let dog = Animal::typical(Species::Dog, Mass::kg(20.0));
    /// let drive = Drive::of(&dog, 0.4);
    /// let (usual, low) = (PartialPressure::mmhg(95.0), PartialPressure::mmhg(45.0));
    /// assert_eq!(drive.at_oxygen(usual), drive);
    /// assert!(drive.at_oxygen(low).threshold < drive.threshold);
    /// ```
    #[must_use]
    pub fn at_oxygen(&self, arterial: PartialPressure) -> Self {
        let oxygen = arterial.as_mmhg();
        if oxygen >= NO_WANT_MMHG {
            return *self;
        }
        if oxygen < HYPOXIC_APNOEA_MMHG {
            return Self { slope_ml_min_mmhg: 0.0, ..*self };
        }
        let hyperbola = |mmhg: f64| 1.0 / (mmhg - POLE_MMHG) - 1.0 / (NO_WANT_MMHG - POLE_MMHG);
        let (until, left) = HYPOXIC_LEFT;
        let asleep = (self.depth * MAC_AT_FULL_DEPTH / until).min(1.0);
        let want = (1.0 - (1.0 - left) * asleep) * hyperbola(oxygen.max(LOWEST_MMHG))
            / hyperbola(HYPOXIC_MMHG);
        let threshold = self.threshold.as_mmhg() - HYPOXIC_THRESHOLD_MMHG * want;
        Self {
            threshold: PartialPressure::mmhg(threshold),
            slope_ml_min_mmhg: self.slope_ml_min_mmhg * (1.0 + HYPOXIC_SLOPE * want),
            ..*self
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
    use crate::animal::species::Species;
    use crate::base::quantity::Mass;

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

    /// Br J Anaesth 1977;49:957 (abstract): 16 % of the awake slope at 1 MAC of isoflurane
    /// (standard errors of half of that), 9 and 7 % with two other agents.
    #[test]
    fn published_slope_at_one_mac() {
        let dog = Animal::typical(Species::Dog, Mass::kg(20.0));
        let slope = |depth| Drive::of(&dog, depth).slope_ml_min_mmhg;
        let left = slope(1.0 / MAC_AT_FULL_DEPTH) / slope(0.0);
        assert!((0.07..0.24).contains(&left), "{left}");
        // 0.21 L/min/mmHg; weights not given, so a wide band.
        assert!((100.0..420.0).contains(&slope(0.4)), "{}", slope(0.4));
    }

    #[test]
    fn want_of_oxygen_drives_less_in_anaesthesia_and_the_worst_not_at_all() {
        let dog = Animal::typical(Species::Dog, Mass::kg(20.0));
        let at = PartialPressure::mmhg;
        let fall = |depth| {
            let drive = Drive::of(&dog, depth);
            drive.threshold.as_mmhg() - drive.at_oxygen(at(50.0)).threshold.as_mmhg()
        };
        assert!((fall(0.4) / fall(0.0) - 0.47).abs() < 1e-9);
        assert!(Drive::of(&dog, 0.2).at_oxygen(at(15.0)).next_breath(at(90.0)).is_none());
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
