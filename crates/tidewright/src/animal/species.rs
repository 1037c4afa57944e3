//! Typical animals: what a cat of 4 kg or a dog of 25 kg brings to the model,
//! with the law, the source and the confidence of every number.
//!
//! A parameter follows an allometric law a·Mᵇ (M: body mass, kg). A species has
//! a law of its own where one was measured and else takes the mammals' law; the
//! state of the animal then changes the value by a stated factor. All of them
//! are rows of a table: [`MAMMAL_LAWS`], [`SPECIES_LAWS`] and [`FACTORS`].
//!
//! These are typical published values, for teaching; they are not the values of
//! the animal in front of you.
//!
//! ```
//! use tidewright::prelude::*;
//! use tidewright::species::{self, Species};
//! let lung = species::lung(Species::Dog, Mass::kg(20.0));
//! assert!((lung.total_compliance().as_ml_per_cmh2o() - 26.0).abs() < 1e-9);
//! ```
//!
#![doc = include_str!("species/at-rest.md")]

mod animal;
mod condition;
mod parameter;
mod source;
mod table;
mod variation;

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use crate::base::quantity::Mass;
use crate::setup::Lung;

pub use animal::{Animal, Applied, Estimate, METABOLIC_Q10};
pub use condition::{BodyCondition, Condition, Posture, State};
pub use parameter::Parameter;
pub use source::{Confidence, Source};
pub use table::{FACTORS, Factor, Law, MAMMAL_LAWS, SPECIES_LAWS, When};
pub use variation::{Spread, Variation, spread};

/// The table of animals at rest at the top of this page, as Markdown: what the model gives
/// beside what was published, made and held true by a test.
pub const AT_REST: &str = include_str!("species/at-rest.md");

macro_rules! species {
    ($($(#[$doc:meta])* $Kind:ident,)*) => {
        /// The kinds of animal that the model knows.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        pub enum Species {
            $($(#[$doc])* $Kind,)*
        }

        impl Species {
            /// All of them, in the order of the declaration.
            pub const ALL: [Self; [$(Self::$Kind),*].len()] = [$(Self::$Kind),*];

            /// The name that scenario files and the command line use: `Cat`, `GuineaPig`.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$Kind => stringify!($Kind),)*
                }
            }
        }
    };
}

species! {
    /// Domestic cat.
    Cat,
    /// Domestic dog.
    Dog,
    /// Domestic rabbit.
    Rabbit,
    /// Domestic ferret.
    Ferret,
    /// Guinea pig.
    GuineaPig,
    /// Laboratory or pet rat.
    Rat,
    /// Horse or pony.
    Horse,
    /// Any other mammal: the mammals' laws alone.
    Other,
}

impl Species {
    /// Lightest and heaviest weight, kg, that a weaned animal of this kind
    /// usually has (common practice, no source; for `Other`, the span for which
    /// the mammals' laws are said to hold).
    #[must_use]
    pub const fn usual_weight_kg(self) -> (f64, f64) {
        match self {
            Self::Cat => (0.8, 9.0),
            Self::Dog => (1.0, 90.0),
            Self::Rabbit => (0.7, 8.0),
            Self::Ferret => (0.3, 2.5),
            Self::GuineaPig => (0.2, 1.5),
            Self::Rat => (0.1, 0.8),
            Self::Horse => (60.0, 1000.0),
            Self::Other => (0.02, 700.0),
        }
    }
}

impl fmt::Display for Species {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A name that is none of the species'.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("unknown species {0:?}: use Cat, Dog, Rabbit, Ferret, GuineaPig, Rat, Horse or Other")]
pub struct UnknownSpecies(pub String);

impl FromStr for Species {
    type Err = UnknownSpecies;

    /// From the name in any case, with or without a hyphen, space or underscore.
    ///
    /// # Errors
    /// [`UnknownSpecies`] when no name fits.
    ///
    /// ```
    /// use tidewright::species::Species;
    /// assert_eq!("guinea-pig".parse(), Ok(Species::GuineaPig));
    /// assert!("dragon".parse::<Species>().is_err());
    /// ```
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let plain: String = text.chars().filter(|c| !matches!(c, '-' | '_' | ' ')).collect();
        Self::ALL
            .into_iter()
            .find(|species| species.name().eq_ignore_ascii_case(&plain))
            .ok_or_else(|| UnknownSpecies(text.to_owned()))
    }
}

/// The default lung: anaesthetised, of ideal body condition, lying on its side,
/// with an endotracheal tube of a usual size in place.
///
/// The tube is [`Lung::tube`]; it counts, and in a small animal it
/// takes as much pressure as the airways do. A cat of 4 kg has 6 mL/cmH2O and
/// 20 cmH2O·s/L in all, 6.5 of them in the tube. The weight is above 0; of any other
/// comes a lung that [`Machine::new`](crate::machine::Machine::new) refuses.
#[must_use]
pub fn lung(species: Species, weight: Mass) -> Lung {
    Animal::typical(species, weight).lung()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::Tube;

    fn total_resistance(lung: &Lung) -> f64 {
        let tube = match lung.tube {
            Tube::Linear(resistance) => resistance.as_cmh2o_s_per_l(),
            _ => 0.0,
        };
        lung.compartments[0].resistance.as_cmh2o_s_per_l() + tube
    }

    #[test]
    fn the_typical_cat_of_4_kg_is_the_default_lung() {
        let cat = lung(Species::Cat, Mass::kg(4.0));
        let default = Lung::default();
        assert_eq!(cat.total_compliance(), default.total_compliance());
        assert!((total_resistance(&cat) / total_resistance(&default) - 1.0).abs() < 0.01);
    }

    #[test]
    fn every_species_over_its_usual_weights_has_a_lung_that_breathes() {
        for species in Species::ALL {
            let (light, heavy) = species.usual_weight_kg();
            for weight in [light, (light * heavy).sqrt(), heavy] {
                let lung = lung(species, Mass::kg(weight));
                let tau =
                    total_resistance(&lung) * lung.total_compliance().as_ml_per_cmh2o() / 1000.0;
                // Wide band around the 0.15 to 0.20 s of newborn mammals (passive,
                // no tube) and the 0.12 s of adult cats; the law of mammals makes
                // a mouse of 20 g fast.
                assert!((0.01..0.6).contains(&tau), "{species} {weight} kg: {tau} s");
            }
        }
    }

    #[test]
    fn names_read_back_as_the_species() {
        for species in Species::ALL {
            assert_eq!(species.name().parse(), Ok(species));
            assert_eq!(species.to_string().to_lowercase().parse(), Ok(species));
        }
    }
}
