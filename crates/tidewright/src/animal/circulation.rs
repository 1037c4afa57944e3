//! The circulation: heart rate, arterial pressure and output, and what depth of
//! anaesthesia, airway pressure, carbon dioxide and want of oxygen do to them.
//!
//! Output is what is usual times a factor for each strain; arterial pressure follows
//! from output and resistance:
//!
//! - Q = Q₀·depth·airway·carbon dioxide·heart
//! - MAP = P₀ + (MAPᵤ − P₀)·d·R·q, R = min(q^−0.68, 2.5), q = Q without depth's part
//!   over what is usual, P₀ = 7 mmHg the pressure that is left when the heart stands
//!
//! Each factor is exactly 1 in an animal that is well: at depths up to 1.2 MAC, mean
//! alveolar pressures up to 6 cmH2O, arterial carbon dioxide up to 60 mmHg and
//! saturations from 60 %. A depth of 1 is the concentration that stops breathing, 2.5
//! MAC (apnoeic index of isoflurane in dogs 2.5, in cats 2.4: Am J Vet Res
//! 1977;38:1833, abstract).
//!
//! ```
//! use tidewright::circulation::{Circulation, Strain};
//! use tidewright::prelude::*;
//! use tidewright::species::{Animal, Species};
//! let dog = Animal::typical(Species::Dog, Mass::kg(20.0));
//! let circulation = Circulation::of(&dog);
//! let well = circulation.under(&Strain::NONE);
//! assert!((75.0..85.0).contains(&well.arterial_mmhg));
//! // An overdose costs pressure and output.
//! let deep = circulation.under(&Strain { depth: Some(1.0), ..Strain::NONE });
//! assert!(deep.arterial_mmhg < 60.0 && deep.output_share < 0.8);
//! ```

use crate::animal::species::{Animal, Parameter, State};
use crate::base::math::{exp, pow};

/// Depth at which breathing stops, as a multiple of the minimum alveolar concentration:
/// see the module.
pub const MAC_AT_FULL_DEPTH: f64 = 2.5;

/// MAC to which the typical anaesthetised values belong, and up to which output holds
/// (1.2: instrumented dogs, sevoflurane, 1990, abstract).
const REFERENCE_MAC: f64 = 1.2;
/// Fall of mean arterial pressure for each MAC, of what it is awake: −22 ± 4 % at 1.2,
/// −38 ± 4 % at 2 (same dogs).
const PRESSURE_PER_MAC: f64 = 0.19;
/// Fall of output for each MAC above the reference: none at 1.2, −17 ± 6 % at 2 (same).
const OUTPUT_PER_MAC: f64 = 0.21;
/// Fall of heart rate for each MAC above the reference: +60 % of awake at 1.2, +54 % at 2
/// (same).
const RATE_PER_MAC: f64 = 0.05;

/// Mean alveolar pressure that costs no output, cmH2O, and what each cmH2O above it
/// takes, as the rate of an exponential: output −24 % at an end-expiratory pressure of 10
/// with a usual breath on top, −39 % at 15, −47 % at 20. Dogs: −50 % at 15 (J Appl
/// Physiol 1978;44:743), −30 % at 20 (Am J Physiol 1979;236:H534), −38 % at 4 above the
/// best end-expiratory pressure (Vet Anaesth Analg 2021), none at 10 (a congress
/// abstract): abstracts that disagree, and a choice between them.
const AIRWAY: (f64, f64) = (6.0, 0.035);

/// Arterial carbon dioxide above which output rises, mmHg, by how much for each mmHg, and
/// where that ends. Horses: no rise at 59, a rise at 83 and 110 (abstract PMC1263768); the
/// size is assumed.
const CARBON_DIOXIDE: (f64, f64, f64) = (60.0, 0.005, 110.0);
/// The same for heart rate: assumed.
const RATE_PER_MMHG: f64 = 0.002;

/// Arterial saturation from which on the heart has the oxygen that it needs, and at which
/// it has none to spare: assumed. That rate and output fall in a clamped airway was seen
/// in dogs (Respir Physiol 1975;24:313, abstract).
const HEART_NEEDS: (f64, f64) = (0.6, 0.1);
/// Times in which the heart fails without oxygen and comes back with it, s: assumed.
const FAILS_S: f64 = 90.0;
const COMES_BACK_S: f64 = 30.0;
/// Strength below which no pulse is left: assumed.
const ARREST: f64 = 0.1;
/// Share of the usual output that fills no pulse: assumed.
const NO_PULSE: f64 = 0.03;

/// Resistance rises as output falls, so that a halved output costs a fifth of the
/// pressure: −50 and −20 % (J Appl Physiol 1978;44:743, abstract; −38 and −13 % in the
/// dogs of 2021).
const REFLEX: f64 = 0.68;
/// And no further than this: assumed.
const MOST_RESISTANCE: f64 = 2.5;
/// Rise of heart rate where output is lost: assumed.
const RATE_WITH_LOSS: f64 = 0.4;
/// Pressure that is left without a heart beat, mmHg (textbook value, from memory).
const FILLING_MMHG: f64 = 7.0;

/// Share of the usual output below which blood no longer reaches all of the lung, and how
/// alveolar dead space then grows with the logarithm of flow: assumed, so that end-tidal
/// carbon dioxide over output is logarithmic in shape, as in bled dogs (Intensive Care
/// Med 2000;26:1619, abstract) and sheep (0.6 to 8 L/min, r 0.91, abstract).
const UNREACHED: (f64, f64) = (0.6, 0.2);

/// Parts of the usual pulse below which it feels weak, and can hardly be felt (a teaching
/// choice): of stroke volume, and of arterial pressure.
const WEAK: (f64, f64) = (0.7, 0.75);
const THREADY: (f64, f64) = (0.3, 0.45);

/// The circulation of an animal that is well.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Circulation {
    rate_per_min: f64,
    arterial_mmhg: f64,
    reference_mac: f64,
}

/// What weighs on it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strain {
    /// Output that is left of what is usual, whatever took the rest; 0 or more.
    pub output_share: f64,
    /// Metabolism over what is usual at the usual temperature: heart rate goes with it.
    pub metabolism: f64,
    /// Depth of anaesthesia, 0 to 1; the usual where it is not known.
    pub depth: Option<f64>,
    /// Mean alveolar pressure, cmH2O.
    pub alveolar_cmh2o: f64,
    /// Arterial carbon dioxide, mmHg.
    pub carbon_dioxide_mmhg: f64,
    /// Strength that want of oxygen has left to the heart: see [`strength_after`].
    pub heart: f64,
}

/// What heart and vessels do.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Pulse {
    /// Heart beats, 1/min; 0 in an arrest.
    pub rate_per_min: f64,
    /// Mean arterial pressure, mmHg.
    pub arterial_mmhg: f64,
    /// Output over what is usual; 0 in an arrest.
    pub output_share: f64,
    /// How it feels.
    pub feels: Feel,
}

/// How a pulse feels to a finger.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Feel {
    /// Full.
    Full,
    /// Weak.
    Weak,
    /// It can hardly be felt.
    Thready,
    /// There is none; nor has a pulse oximeter a reading.
    None,
}

impl Strain {
    /// Nothing weighs on it.
    pub const NONE: Self = Self {
        output_share: 1.0,
        metabolism: 1.0,
        depth: None,
        alveolar_cmh2o: 0.0,
        carbon_dioxide_mmhg: 40.0,
        heart: 1.0,
    };
}

impl Circulation {
    /// The circulation of an animal in its state.
    #[must_use]
    pub fn of(animal: &Animal) -> Self {
        Self {
            rate_per_min: animal.value(Parameter::HeartRate),
            arterial_mmhg: animal.value(Parameter::ArterialPressure),
            reference_mac: match animal.condition.state {
                State::Awake => 0.0,
                State::Anaesthetised => REFERENCE_MAC,
            },
        }
    }

    /// What it does under a strain.
    #[must_use]
    pub fn under(&self, strain: &Strain) -> Pulse {
        let mac = strain.depth.map_or(self.reference_mac, |depth| depth * MAC_AT_FULL_DEPTH);
        let above = (mac - REFERENCE_MAC).max(0.0);
        let vessels =
            (1.0 - PRESSURE_PER_MAC * mac) / (1.0 - PRESSURE_PER_MAC * self.reference_mac);
        let (free, pace) = AIRWAY;
        let airway = exp(-pace * (strain.alveolar_cmh2o - free).max(0.0));
        let (from, rise, to) = CARBON_DIOXIDE;
        let hypercapnia = (strain.carbon_dioxide_mmhg.min(to) - from).max(0.0);
        let heart = if strain.heart < ARREST { 0.0 } else { strain.heart };

        let flow = strain.output_share * airway * (1.0 + rise * hypercapnia) * heart;
        let output_share = flow * (1.0 - OUTPUT_PER_MAC * above);
        if output_share < NO_PULSE {
            return Pulse::NONE;
        }
        let resistance = pow(flow, -REFLEX).min(MOST_RESISTANCE);
        let usual_mmhg = (self.arterial_mmhg - FILLING_MMHG) * flow * resistance * vessels;
        let rate = (1.0 - RATE_PER_MAC * above)
            * (1.0 + RATE_PER_MMHG * hypercapnia)
            * (1.0 + RATE_WITH_LOSS * (1.0 - strain.output_share * airway).max(0.0))
            * heart.sqrt();
        let arterial_mmhg = FILLING_MMHG + usual_mmhg;
        let (stroke, pressure) = (output_share / rate, arterial_mmhg / self.arterial_mmhg);
        let below = |limits: (f64, f64)| stroke < limits.0 || pressure < limits.1;
        let feels = match () {
            () if below(THREADY) => Feel::Thready,
            () if below(WEAK) => Feel::Weak,
            () => Feel::Full,
        };
        let rate_per_min = self.rate_per_min * strain.metabolism * rate;
        Pulse { rate_per_min, arterial_mmhg, output_share, feels }
    }
}

impl Pulse {
    /// The heart stands still, or pumps nothing that could be felt.
    pub const NONE: Self = Self {
        rate_per_min: 0.0,
        arterial_mmhg: FILLING_MMHG,
        output_share: 0.0,
        feels: Feel::None,
    };

    /// Whether there is any.
    #[must_use]
    pub fn is_there(&self) -> bool {
        self.feels != Feel::None
    }
}

/// Strength that the heart has (0 to 1) a time (s) later, at an arterial saturation
/// (0 to 1): it goes to what that saturation lets it have, and fails more slowly than it
/// comes back.
///
/// ```
/// use tidewright::circulation::strength_after;
/// assert_eq!(strength_after(1.0, 0.9, 60.0), 1.0);
/// assert!(strength_after(1.0, 0.2, 60.0) < 0.7);
/// ```
#[must_use]
pub fn strength_after(strength: f64, saturation: f64, time_s: f64) -> f64 {
    let (enough, none) = HEART_NEEDS;
    let goal = ((saturation - none) / (enough - none)).clamp(0.0, 1.0);
    let within_s = if goal < strength { FAILS_S } else { COMES_BACK_S };
    goal + (strength - goal) * exp(-time_s / within_s)
}

/// Share of alveolar ventilation that meets no blood, at an output over what is usual and
/// with the share that meets none at the usual output: u + (1 − u)·0.2·ln(0.6/q) below
/// q = 0.6, at most 0.9.
///
/// ```
/// use tidewright::circulation::alveolar_dead_space;
/// assert_eq!(alveolar_dead_space(0.05, 1.0), 0.05);
/// assert!(alveolar_dead_space(0.05, 0.15) > 0.3);
/// ```
#[must_use]
pub fn alveolar_dead_space(usual: f64, output_share: f64) -> f64 {
    let (from, per_fold) = UNREACHED;
    if output_share >= from {
        return usual;
    }
    let lost = per_fold * crate::base::math::ln(from / output_share.max(1e-3));
    (usual + (1.0 - usual) * lost).min(usual.max(0.9))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::animal::species::Species;
    use crate::base::quantity::Mass;

    fn dog() -> Circulation {
        Circulation::of(&Animal::typical(Species::Dog, Mass::kg(20.0)))
    }

    #[test]
    fn an_animal_that_is_well_has_exactly_what_is_usual() {
        for species in Species::ALL {
            let animal = Animal::typical(species, Mass::kg(3.0));
            let well = Strain { alveolar_cmh2o: 5.0, depth: Some(0.48), ..Strain::NONE };
            for strain in [Strain::NONE, well] {
                let pulse = Circulation::of(&animal).under(&strain);
                assert_eq!((pulse.output_share, pulse.feels), (1.0, Feel::Full), "{species}");
                assert_eq!(pulse.rate_per_min, animal.value(Parameter::HeartRate));
                let usual = animal.value(Parameter::ArterialPressure);
                assert!((pulse.arterial_mmhg / usual - 1.0).abs() < 1e-12, "{species}");
            }
        }
    }

    /// Instrumented dogs, sevoflurane, 1990 (abstract): 2 MAC against awake.
    #[test]
    fn published_two_mac_in_dogs() {
        let awake = dog().under(&Strain { depth: Some(0.0), ..Strain::NONE });
        let deep = dog().under(&Strain { depth: Some(0.8), ..Strain::NONE });
        let fall = |at: fn(&Pulse) -> f64| 100.0 * (at(&deep) / at(&awake) - 1.0);
        // The pressure that is left without a beat is no part of the fall.
        assert!((-42.0..-33.0).contains(&fall(|pulse| pulse.arterial_mmhg)));
        assert!((-23.0..-11.0).contains(&fall(|pulse| pulse.output_share)));
        // Awake dogs of another study: 103 mmHg.
        assert!((97.0..109.0).contains(&awake.arterial_mmhg), "{awake:?}");
    }

    /// The abstracts named at [`AIRWAY`]; a usual breath adds about 4 cmH2O to the mean.
    #[test]
    fn published_end_expiratory_pressure_in_dogs() {
        let at = |peep: f64| dog().under(&Strain { alveolar_cmh2o: peep + 4.0, ..Strain::NONE });
        let fall = |peep| 1.0 - at(peep).output_share;
        assert!((0.0..0.30).contains(&fall(10.0)) && (0.30..0.55).contains(&fall(15.0)));
        assert!((0.30..0.60).contains(&fall(20.0)));
        let pressure = 1.0 - at(15.0).arterial_mmhg / at(0.0).arterial_mmhg;
        assert!((0.10..0.25).contains(&pressure), "{pressure}");
    }

    #[test]
    fn no_pulse_at_full_depth_is_full() {
        for species in Species::ALL {
            let animal = Animal::typical(species, Mass::kg(3.0));
            let deep = Circulation::of(&animal).under(&Strain { depth: Some(1.0), ..Strain::NONE });
            assert_eq!(deep.feels, Feel::Weak, "{species} {deep:?}");
            assert!(deep.arterial_mmhg < 60.0, "{species} {deep:?}");
        }
    }

    #[test]
    fn the_weaker_the_heart_the_weaker_the_pulse() {
        let at = |output_share| dog().under(&Strain { output_share, ..Strain::NONE });
        let felt = [1.0, 0.8, 0.45, 0.15, 0.0].map(|share| at(share).feels);
        assert_eq!(felt, [Feel::Full, Feel::Full, Feel::Weak, Feel::Thready, Feel::None]);
        assert!(at(0.5).rate_per_min > at(1.0).rate_per_min);
        assert!(at(0.0).arterial_mmhg < 10.0);
    }

    #[test]
    fn a_heart_without_oxygen_fails_within_minutes_and_comes_back_sooner() {
        let after = |time_s| strength_after(1.0, 0.1, time_s);
        assert!(after(60.0) > ARREST && after(300.0) < ARREST);
        assert!(strength_after(0.5, 0.95, 60.0) > 0.9);
    }
}
