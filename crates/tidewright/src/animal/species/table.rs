//! The table: one row for each law and each factor, with its source.

use super::Species::{self, Cat, Dog, Ferret, GuineaPig, Horse, Rabbit, Rat};
use super::State::{self, Anaesthetised, Awake};
use super::parameter::Parameter::{self, *};
use super::source::*;

/// A typical value as coefficient · Mᵉˣᵖᵒⁿᵉⁿᵗ, M in kg.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Law {
    /// What it is a law for.
    pub parameter: Parameter,
    /// Whose law it is; `None` for every species that has no law of its own.
    pub species: Option<Species>,
    /// Value at 1 kg, in the parameter's unit.
    pub coefficient: f64,
    /// Power of body mass; 0 for a value that does not change with size.
    pub exponent: f64,
    /// State of the animals it was measured in.
    pub measured: State,
    /// Where it comes from.
    pub source: Source,
}

/// When a factor applies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum When {
    /// Under anaesthesia, relative to awake.
    Anaesthetised,
    /// Overweight, relative to ideal.
    Overweight,
    /// Obese, relative to ideal.
    Obese,
    /// On the breastbone, relative to the side.
    Sternal,
    /// On the back, relative to the side.
    Dorsal,
}

/// What a state of the animal does to a typical value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Factor {
    /// What it changes.
    pub parameter: Parameter,
    /// In which species; `None` for all that have no row of their own.
    pub species: Option<Species>,
    /// In which state.
    pub when: When,
    /// Multiplies the value.
    pub factor: f64,
    /// Where it comes from.
    pub source: Source,
}

/// The mammals' law of each parameter, in the order of [`Parameter::ALL`]; it
/// serves each species that has none of its own.
pub const MAMMAL_LAWS: [Law; Parameter::ALL.len()] = [
    law(None, Compliance, 1.56, 1.04, Awake, STAHL),
    law(None, AirwayResistance, 24.4, -0.70, Anaesthetised, STAHL),
    law(None, TubeDiameter, 3.6, CUBE_ROOT, Anaesthetised, PRACTICE),
    law(None, TubeLength, 12.0, CUBE_ROOT, Anaesthetised, PRACTICE),
    law(None, FunctionalResidualCapacity, 24.1, 1.13, Awake, STAHL),
    law(None, DeadSpace, 2.76, 0.96, Awake, STAHL),
    law(None, TidalVolume, 7.69, 1.04, Awake, STAHL),
    law(None, Rate, 53.5, -0.26, Awake, STAHL),
    law(None, OxygenConsumption, 11.6, 0.76, Awake, STAHL),
    law(None, RespiratoryQuotient, 0.8, 0.0, Awake, TEXTBOOK),
    law(None, CardiacOutput, 187.0, 0.81, Awake, STAHL),
    law(None, BloodVolume, 65.6, 1.02, Awake, STAHL),
    law(None, Haemoglobin, 14.0, 0.0, Awake, TEXTBOOK),
    law(None, HalfSaturation, 26.6, 0.0, Awake, CLERBAUX_TAKEN),
    law(None, BohrSlope, -0.521, 0.0, Awake, SEVERINGHAUS),
    law(None, TemperatureSlope, 0.0304, 0.0, Awake, SEVERINGHAUS),
    law(None, ArterialCarbonDioxide, 40.0, 0.0, Awake, TEXTBOOK),
    law(None, Bicarbonate, 24.0, 0.0, Awake, TEXTBOOK),
    law(None, Temperature, 38.0, 0.0, Awake, TEXTBOOK),
    law(None, FastCarbonDioxideStore, 0.15, 1.0, Awake, CARBON_DIOXIDE_STORES),
    law(None, SlowCarbonDioxideStore, 0.87, 1.0, Awake, CARBON_DIOXIDE_STORES),
    law(None, SlowTissueFlow, 7.4, 1.0, Awake, SLOW_TISSUE),
    law(None, LungTissueSpace, 17.0, 0.99, Awake, LUNG_TISSUE),
    law(None, Shunt, 0.05, 0.0, Awake, TEXTBOOK),
    law(None, AlveolarDeadSpace, 0.05, 0.0, Awake, TEXTBOOK),
    law(None, HeartRate, 241.0, -0.25, Anaesthetised, STAHL),
    law(None, ArterialPressure, 100.0, 0.0, Awake, TEXTBOOK),
];

/// The laws of those species that have one of their own.
pub const SPECIES_LAWS: &[Law] = &[
    law(Some(Cat), Compliance, 1.5, 1.0, Anaesthetised, CAT_COMPLIANCE),
    law(Some(Dog), Compliance, 1.3, 1.0, Anaesthetised, ASOREY),
    law(Some(Ferret), Compliance, 4.306, 1.0, Anaesthetised, FERRET_MECHANICS),
    law(Some(Rat), Compliance, 1.857, 1.0, Anaesthetised, LAI),
    law(Some(Horse), Compliance, 0.6, 1.0, Anaesthetised, HORSE_COMPLIANCE),
    law(Some(Cat), AirwayResistance, 35.5, -0.70, Anaesthetised, CAT_RESISTANCE),
    law(Some(Ferret), AirwayResistance, 21.52, -0.0858, Anaesthetised, FERRET_RESISTANCE),
    law(Some(Rat), AirwayResistance, 50.5, -0.70, Anaesthetised, RAT_RESISTANCE),
    law(Some(Cat), TubeDiameter, 2.52, CUBE_ROOT, Anaesthetised, PRACTICE),
    law(Some(Rabbit), TubeDiameter, 2.2, CUBE_ROOT, Anaesthetised, PRACTICE),
    law(Some(Ferret), TubeDiameter, 2.7, CUBE_ROOT, Anaesthetised, PRACTICE),
    law(Some(GuineaPig), TubeDiameter, 2.2, CUBE_ROOT, Anaesthetised, PRACTICE),
    law(Some(Rat), TubeDiameter, 2.45, CUBE_ROOT, Anaesthetised, PRACTICE),
    law(Some(Horse), TubeDiameter, 3.3, CUBE_ROOT, Anaesthetised, PRACTICE),
    law(Some(Dog), FunctionalResidualCapacity, 38.6, 1.0, Anaesthetised, DOG_FRC),
    law(Some(Ferret), FunctionalResidualCapacity, 30.9, 1.0, Anaesthetised, FERRET_MECHANICS),
    law(Some(Rat), FunctionalResidualCapacity, 8.18, 1.0, Anaesthetised, LAI),
    law(Some(Horse), FunctionalResidualCapacity, 51.0, 1.0, Awake, HORSE_FRC),
    law(Some(Cat), TidalVolume, 10.0, 1.0, Anaesthetised, CAT_FLOWS),
    law(Some(Cat), Rate, 19.2, -0.26, Anaesthetised, CAT_FLOWS),
    law(Some(Cat), OxygenConsumption, 8.95, 0.76, Anaesthetised, CAT_FLOWS),
    law(Some(GuineaPig), OxygenConsumption, 12.88, 0.704, Awake, GUINEA_PIG_OXYGEN),
    law(Some(Horse), OxygenConsumption, 11.6, 0.76, Anaesthetised, HORSE_OXYGEN),
    law(Some(Cat), CardiacOutput, 164.0, 0.81, Anaesthetised, CAT_OUTPUT),
    law(Some(Dog), CardiacOutput, 284.0, 0.81, Anaesthetised, DOG_OUTPUT),
    law(Some(Cat), Haemoglobin, 11.0, 0.0, Awake, TEXTBOOK),
    law(Some(Dog), Haemoglobin, 15.0, 0.0, Awake, TEXTBOOK),
    law(Some(Rabbit), Haemoglobin, 12.5, 0.0, Awake, TEXTBOOK),
    law(Some(Ferret), Haemoglobin, 16.0, 0.0, Awake, TEXTBOOK),
    law(Some(Rat), Haemoglobin, 15.0, 0.0, Awake, TEXTBOOK),
    law(Some(Horse), Haemoglobin, 13.0, 0.0, Awake, TEXTBOOK),
    law(Some(Cat), HalfSaturation, 34.1, 0.0, Awake, CAMBIER),
    law(Some(Dog), HalfSaturation, 30.0, 0.0, Awake, CAMBIER),
    law(Some(Rabbit), HalfSaturation, 30.0, 0.0, Awake, TEXTBOOK),
    law(Some(GuineaPig), HalfSaturation, 27.0, 0.0, Awake, TEXTBOOK),
    law(Some(Rat), HalfSaturation, 38.0, 0.0, Awake, TEXTBOOK),
    law(Some(Horse), HalfSaturation, 23.8, 0.0, Awake, CLERBAUX),
    law(Some(Cat), BohrSlope, -0.405, 0.0, Awake, CAMBIER),
    law(Some(Dog), BohrSlope, -0.370, 0.0, Awake, CAMBIER),
    law(Some(Cat), TemperatureSlope, 0.016, 0.0, Awake, CAMBIER),
    law(Some(Dog), TemperatureSlope, 0.020, 0.0, Awake, CAMBIER),
    law(Some(Cat), ArterialCarbonDioxide, 33.6, 0.0, Awake, CAT_GASES),
    law(Some(Dog), ArterialCarbonDioxide, 36.8, 0.0, Awake, DOG_GASES),
    law(Some(Rabbit), ArterialCarbonDioxide, 33.0, 0.0, Awake, RABBIT_GASES),
    law(Some(Cat), Bicarbonate, 17.5, 0.0, Awake, CAT_GASES),
    law(Some(Dog), Bicarbonate, 23.6, 0.0, Awake, DOG_GASES),
    law(Some(Rabbit), Bicarbonate, 22.5, 0.0, Awake, RABBIT_GASES),
    law(Some(Horse), Bicarbonate, 27.0, 0.0, Awake, TEXTBOOK),
    law(Some(Cat), Temperature, 38.5, 0.0, Awake, TEXTBOOK),
    law(Some(Dog), Temperature, 38.7, 0.0, Awake, TEXTBOOK),
    law(Some(Rabbit), Temperature, 39.0, 0.0, Awake, TEXTBOOK),
    law(Some(Ferret), Temperature, 38.8, 0.0, Awake, TEXTBOOK),
    law(Some(GuineaPig), Temperature, 38.5, 0.0, Awake, TEXTBOOK),
    law(Some(Rat), Temperature, 37.7, 0.0, Awake, TEXTBOOK),
    law(Some(Horse), Temperature, 37.8, 0.0, Awake, TEXTBOOK),
    law(Some(Horse), SlowTissueFlow, 0.8, 1.0, Anaesthetised, HORSE_APNOEA),
    law(Some(Horse), Shunt, 0.2, 0.0, Anaesthetised, TEXTBOOK),
    law(Some(Horse), AlveolarDeadSpace, 0.23, 0.0, Anaesthetised, HORSE_DEAD_SPACE),
    law(Some(Cat), HeartRate, 198.0, -0.25, Anaesthetised, TEXTBOOK),
    law(Some(Horse), HeartRate, 170.0, -0.25, Anaesthetised, TEXTBOOK),
    law(Some(Cat), ArterialPressure, 71.0, 0.0, Anaesthetised, CAT_PRESSURE),
    law(Some(Dog), ArterialPressure, 103.0, 0.0, Awake, DOG_PRESSURE),
    law(Some(Rabbit), ArterialPressure, 48.0, 0.0, Anaesthetised, RABBIT_PRESSURE),
    law(Some(Horse), ArterialPressure, 70.0, 0.0, Anaesthetised, TEXTBOOK),
];

/// Every factor. A species without its own row takes the row of `None`.
pub const FACTORS: &[Factor] = &[
    factor(None, Compliance, When::Anaesthetised, 0.74, CORCORAN_TAKEN),
    factor(Some(Dog), Compliance, When::Anaesthetised, 0.74, CORCORAN),
    factor(None, Compliance, When::Overweight, 0.85, FAT_DOGS),
    factor(None, Compliance, When::Obese, 0.65, FAT_DOGS),
    factor(None, Compliance, When::Dorsal, 0.9, CHOICE),
    factor(None, FunctionalResidualCapacity, When::Anaesthetised, 0.8, CHOICE),
    factor(Some(Horse), FunctionalResidualCapacity, When::Anaesthetised, 0.5, CHOICE),
    factor(None, FunctionalResidualCapacity, When::Overweight, 0.9, CHOICE),
    factor(None, FunctionalResidualCapacity, When::Obese, 0.75, CHOICE),
    factor(Some(Horse), FunctionalResidualCapacity, When::Sternal, 1.4, CHOICE),
    factor(None, DeadSpace, When::Anaesthetised, 0.47, NUMA),
    factor(None, Rate, When::Anaesthetised, 0.5, CHOICE),
    factor(None, OxygenConsumption, When::Anaesthetised, 0.64, MIKAT),
    factor(None, CardiacOutput, When::Anaesthetised, 0.75, CHOICE),
    factor(None, ArterialPressure, When::Anaesthetised, 0.772, DOG_PRESSURE_FALLS),
];

const CUBE_ROOT: f64 = 1.0 / 3.0;

const fn law(
    species: Option<Species>,
    parameter: Parameter,
    coefficient: f64,
    exponent: f64,
    measured: State,
    source: Source,
) -> Law {
    Law { parameter, species, coefficient, exponent, measured, source }
}

const fn factor(
    species: Option<Species>,
    parameter: Parameter,
    when: When,
    factor: f64,
    source: Source,
) -> Factor {
    Factor { parameter, species, when, factor, source }
}
