//! Warmth: how a body cools under anaesthesia when nobody keeps it warm.
//!
//! T(t) = T₀ − w·(1.3·(1 − e^(−t/15)) + 2.0·(1 − e^(−t/120))), t in minutes, with
//! w = (20/M)^0.25, M the body mass in kg: warm blood goes to cool limbs within a
//! quarter of an hour, then the body slowly gives its heat away. Nothing cools by itself
//! in a run: a scenario says where its temperature goes.
//!
//! ```
//! use tidewright::quantity::{Mass, Seconds};
//! use tidewright::warmth::fall_c;
//! let hour = Seconds::s(3600.0);
//! let (cat, dog) = (fall_c(Mass::kg(4.0), hour), fall_c(Mass::kg(20.0), hour));
//! assert!(cat > dog && (1.5..2.5).contains(&dog));
//! ```

use crate::base::math::{exp, pow};
use crate::base::quantity::{Mass, Seconds};

/// The two parts of the fall at the reference weight, °C, and their time constants, min:
/// fitted by eye to −2.0, −2.6 and −2.9 °C after 1, 2 and 3 hours in 1525 dogs (Vet Rec
/// 2012;171:374, abstract), fast in the first 15 minutes and slower to 60 (Vet Rec
/// 2023;193(4), abstract).
const PARTS: [(f64, f64); 2] = [(1.3, 15.0), (2.0, 120.0)];
/// Weight at which they hold, kg, and the power of body mass by which smaller animals
/// cool more: assumed, between 275 cats (−2.8, −3.2, −3.6 °C: Vet Rec 2012;170:206) and
/// 33 animals (−3.4 below 10 kg, −1.5 at 30 kg: Vet Rec 1975;96:308), abstracts.
const REFERENCE_KG: f64 = 20.0;
const EXPONENT: f64 = 0.25;

/// Warming, °C/min: forced air of 43 °C left cats 0.9 °C warmer than none after 90 min
/// (Vet Surg 1999;28(4), abstract).
pub const WARMING_C_PER_MIN: f64 = 0.01;

/// Fall of core temperature after a time of anaesthesia without warming, °C.
#[must_use]
pub fn fall_c(weight: Mass, after: Seconds) -> f64 {
    let minutes = after.as_s().max(0.0) / 60.0;
    let fallen = PARTS.iter().map(|(fall, within)| fall * (1.0 - exp(-minutes / within)));
    smaller(weight) * fallen.sum::<f64>()
}

/// How fast core temperature falls at the most, °C/min: at the beginning.
#[must_use]
pub fn fastest_fall_c_per_min(weight: Mass) -> f64 {
    smaller(weight) * PARTS.iter().map(|(fall, within)| fall / within).sum::<f64>()
}

fn smaller(weight: Mass) -> f64 {
    pow(REFERENCE_KG / weight.as_kg(), EXPONENT)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after_hours(kg: f64, hours: f64) -> f64 {
        fall_c(Mass::kg(kg), Seconds::s(3600.0 * hours))
    }

    /// The abstracts named above; weights of those dogs and cats are not given.
    #[test]
    fn published_falls_of_dogs_and_cats() {
        for (hours, dog, cat) in [(1.0, 2.0, 2.8), (2.0, 2.6, 3.2), (3.0, 2.9, 3.6)] {
            assert!((after_hours(20.0, hours) - dog).abs() < 0.2);
            assert!((after_hours(4.0, hours) - cat).abs() < 0.7);
        }
        assert!((after_hours(30.2, 1.0) - 1.5).abs() < 0.5);
        assert!((after_hours(5.0, 1.0) - 3.4).abs() < 0.8);
    }

    #[test]
    fn published_fast_first_quarter_of_an_hour() {
        let (quarter, hour) = (after_hours(20.0, 0.25), after_hours(20.0, 1.0));
        // Faster in the first 15 minutes than in the 45 that follow.
        assert!(quarter / 15.0 > 1.5 * (hour - quarter) / 45.0);
        let steepest = fastest_fall_c_per_min(Mass::kg(20.0));
        assert!((after_hours(20.0, 1e-5) / (6e-4 * steepest) - 1.0).abs() < 1e-3);
    }
}
