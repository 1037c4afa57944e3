//! How fast to breathe for a wanted end-tidal carbon dioxide.

use tidewright::alveolar::alveolar_ventilation_constant;
use tidewright::quantity::{PartialPressure, Volume};
use tidewright::species::{Animal, Parameter};

/// A wanted end-tidal carbon dioxide, and what it depends on.
///
/// At a steady state without inspired carbon dioxide the alveolar gas has
/// PCO₂ = 0.863·V̇CO₂/V̇A, and V̇A is rate × (tidal volume − dead space of the airway).
/// Alveoli without blood do not matter here: they thin the end-tidal gas, not what
/// has to be washed out, so the arterial pressure is higher than the end-tidal one.
/// Rebreathing is not counted: fresh gas at the patient's T-piece keeps it small.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EndTidal {
    /// The end-tidal pressure wanted; above 0.
    pub carbon_dioxide: PartialPressure,
    /// Carbon dioxide made, mL/min STPD; above 0.
    pub production_ml_min: f64,
    /// Airway and tube, which hold no fresh gas at the end of expiration; 0 or more.
    pub dead_space: Volume,
}

impl EndTidal {
    /// For an animal at a core temperature, °C, with its tube.
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// use tidewright::species::{Animal, Species};
    /// use tidewright_study::plan::EndTidal;
    /// let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
    /// let goal = EndTidal::of(&cat, 38.0, PartialPressure::mmhg(40.0));
    /// let deep = goal.rate_per_min(Volume::ml(60.0));
    /// let shallow = goal.rate_per_min(Volume::ml(30.0));
    /// // Half the tidal volume takes more than twice the rate: the dead space stays.
    /// assert!(shallow > 2.1 * deep);
    /// ```
    #[must_use]
    pub fn of(animal: &Animal, temperature_c: f64, carbon_dioxide: PartialPressure) -> Self {
        let dead_space = animal.value(Parameter::DeadSpace) + animal.tube_volume_ml();
        Self {
            carbon_dioxide,
            production_ml_min: animal.carbon_dioxide_production(temperature_c),
            dead_space: Volume::ml(dead_space),
        }
    }

    /// Breaths a minute of a tidal volume; below 0 or without end where that is no
    /// more than the dead space.
    #[must_use]
    pub fn rate_per_min(&self, tidal_volume: Volume) -> f64 {
        let ventilation_l_min = alveolar_ventilation_constant() * self.production_ml_min
            / self.carbon_dioxide.as_mmhg();
        1000.0 * ventilation_l_min / (tidal_volume - self.dead_space).as_ml()
    }
}
