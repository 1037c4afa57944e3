//! Blood: what it carries at a pressure, and the pressure at which it carries it.
//!
//! Oxygen follows the haemoglobin curve of the species ([`OxygenCurve`]);
//! carbon dioxide follows from the acid-base state ([`acid_base`]). Each moves
//! the other: acid lets oxygen go (Bohr), and blood that has let its oxygen go
//! takes up more carbon dioxide (Haldane).
//!
//! Contents are in mL (STPD) for each dL of blood. Acid-base state and carbon
//! dioxide are reckoned at 37 °C, as a blood gas analyser does; the oxygen curve
//! is shifted to the temperature of the blood.
//!
//! ```
//! use tidewright::prelude::*;
//! use tidewright::blood::Blood;
//! use tidewright::species::{Animal, Species};
//! let dog = Blood::of(&Animal::typical(Species::Dog, Mass::kg(20.0)));
//! let arterial = dog.gases(PartialPressure::mmhg(40.0), PartialPressure::mmhg(100.0));
//! let venous = dog.gases(PartialPressure::mmhg(46.0), PartialPressure::mmhg(40.0));
//! assert!(arterial.oxygen_content > venous.oxygen_content);
//! assert!(arterial.carbon_dioxide_content < venous.carbon_dioxide_content);
//! ```

pub mod acid_base;
mod dissociation;
mod oxygen;

pub use dissociation::{Dissociation, Tensions};
pub use oxygen::{
    OXYGEN_PER_G_HAEMOGLOBIN_ML, OXYGEN_SOLUBILITY_ML_DL_MMHG, OxygenCurve, oxygen_content,
    oxygen_pressure,
};

use crate::animal::species::{Animal, Parameter};
use crate::base::quantity::PartialPressure;

/// The blood of an animal: what does not change as it goes round.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Blood {
    /// The haemoglobin curve at the temperature of the blood.
    pub oxygen: OxygenCurve,
    /// Haemoglobin, g/dL.
    pub haemoglobin_g_dl: f64,
    /// Base excess of the blood at full saturation, mmol/L: the fixed part of
    /// its acid-base state.
    pub base_excess_mmol_l: f64,
}

/// Blood at a pair of pressures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BloodGases {
    /// Carbon dioxide pressure.
    pub carbon_dioxide: PartialPressure,
    /// Oxygen pressure.
    pub oxygen: PartialPressure,
    /// pH of the plasma.
    pub ph: f64,
    /// Plasma bicarbonate, mmol/L.
    pub bicarbonate_mmol_l: f64,
    /// Oxygen saturation of haemoglobin, 0 to 1.
    pub saturation: f64,
    /// Oxygen carried, mL/dL.
    pub oxygen_content: f64,
    /// Carbon dioxide carried, mL/dL.
    pub carbon_dioxide_content: f64,
}

impl Blood {
    /// The blood of an animal at its usual temperature, with the base excess that
    /// belongs to its usual bicarbonate and arterial carbon dioxide.
    #[must_use]
    pub fn of(animal: &Animal) -> Self {
        let haemoglobin_g_dl = animal.value(Parameter::Haemoglobin);
        let carbon_dioxide = animal.value(Parameter::ArterialCarbonDioxide);
        let ph = acid_base::ph_of(carbon_dioxide, animal.value(Parameter::Bicarbonate));
        Self {
            oxygen: OxygenCurve::of(animal),
            haemoglobin_g_dl,
            base_excess_mmol_l: acid_base::base_excess(carbon_dioxide, ph, haemoglobin_g_dl, 1.0),
        }
    }

    /// Everything about the blood at a carbon dioxide and an oxygen pressure.
    ///
    /// Saturation depends on pH (Bohr) and pH on saturation (Haldane); the two
    /// are solved together.
    #[must_use]
    pub fn gases(&self, carbon_dioxide: PartialPressure, oxygen: PartialPressure) -> BloodGases {
        let (pco2, po2) = (carbon_dioxide.as_mmhg(), oxygen.as_mmhg());
        let ph_at = |saturation| {
            acid_base::ph(pco2, self.base_excess_mmol_l, self.haemoglobin_g_dl, saturation)
        };
        // Each round shrinks the error at least thirtyfold.
        let mut saturation = 1.0;
        let mut ph = ph_at(saturation);
        for _ in 0..12 {
            let next = self.oxygen.saturation(oxygen, ph);
            if next == saturation {
                break;
            }
            saturation = next;
            ph = ph_at(saturation);
        }
        BloodGases {
            carbon_dioxide,
            oxygen,
            ph,
            bicarbonate_mmol_l: acid_base::bicarbonate(pco2, ph),
            saturation,
            oxygen_content: oxygen_content(self.haemoglobin_g_dl, saturation, po2),
            carbon_dioxide_content: acid_base::carbon_dioxide_content(
                pco2,
                ph,
                self.haemoglobin_g_dl,
                saturation,
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::animal::species::Species;
    use crate::base::quantity::Mass;

    #[test]
    fn typical_blood_meets_the_gases_it_was_made_from() {
        for species in Species::ALL {
            let animal = Animal::typical(species, Mass::kg(3.0));
            let blood = Blood::of(&animal);
            let gases = blood.gases(
                PartialPressure::mmhg(animal.value(Parameter::ArterialCarbonDioxide)),
                PartialPressure::mmhg(1e6),
            );
            let bicarbonate = animal.value(Parameter::Bicarbonate);
            assert!((gases.bicarbonate_mmol_l / bicarbonate - 1.0).abs() < 1e-6, "{species}");
        }
    }

    /// J Small Anim Pract 1977;18:535-541 (abstract): 30 dogs awake, arterial
    /// PCO2 34.0, PO2 101.3 mmHg, saturation 93.8 %, content 19.3 mL/dL.
    #[test]
    fn published_arterial_content_of_dogs() {
        let dog = Blood::of(&Animal::typical(Species::Dog, Mass::kg(20.0)));
        let gases = dog.gases(PartialPressure::mmhg(34.0), PartialPressure::mmhg(101.3));
        assert!((gases.saturation - 0.938).abs() < 0.03, "{}", gases.saturation);
        assert!((gases.oxygen_content - 19.3).abs() < 0.7, "{}", gases.oxygen_content);
    }

    #[test]
    fn carbon_dioxide_unloads_oxygen_and_deoxygenation_binds_carbon_dioxide() {
        let blood = Blood::of(&Animal::typical(Species::Cat, Mass::kg(4.0)));
        let at = |pco2, po2| blood.gases(PartialPressure::mmhg(pco2), PartialPressure::mmhg(po2));
        assert!(at(60.0, 40.0).saturation < at(40.0, 40.0).saturation);
        assert!(at(40.0, 40.0).carbon_dioxide_content > at(40.0, 100.0).carbon_dioxide_content);
    }
}
