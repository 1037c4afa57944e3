//! The table: one row for each law and each factor, with its source.

use super::{Species, State};

/// How far a row can be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Confidence {
    /// The number was read in the stated source (mostly in its abstract).
    Read,
    /// The number is quoted from memory; expect the right size, not the digits.
    Memory,
    /// Arithmetic on numbers that were read, or a choice that they bound.
    Computed,
}

/// What the table knows about an animal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Parameter {
    /// Compliance of lung and chest wall together, mL/cmH2O.
    Compliance,
    /// Resistance of airways and tissue, without a tube, cmH2O·s/L.
    AirwayResistance,
    /// Internal diameter of the endotracheal tube, mm.
    TubeDiameter,
    /// Length of the endotracheal tube, cm.
    TubeLength,
}

impl Parameter {
    /// All of them, in the order in which a person reads them.
    pub const ALL: [Self; 4] = [
        Self::Compliance,
        Self::AirwayResistance,
        Self::TubeDiameter,
        Self::TubeLength,
    ];

    /// Name in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Compliance => "respiratory system compliance",
            Self::AirwayResistance => "airway and tissue resistance",
            Self::TubeDiameter => "endotracheal tube, internal diameter",
            Self::TubeLength => "endotracheal tube, length",
        }
    }

    /// Unit of its values.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Compliance => "mL/cmH2O",
            Self::AirwayResistance => "cmH2O·s/L",
            Self::TubeDiameter => "mm",
            Self::TubeLength => "cm",
        }
    }
}

/// A typical value as coefficient · Mᵉˣᵖᵒⁿᵉⁿᵗ, M in kg.
#[derive(Clone, Debug, PartialEq)]
pub struct Law {
    /// What it is a law for.
    pub parameter: Parameter,
    /// Whose law it is; `None` for every species that has no law of its own.
    pub species: Option<Species>,
    /// Value at 1 kg, in the parameter's unit.
    pub coefficient: f64,
    /// Power of body mass.
    pub exponent: f64,
    /// State of the animals it was measured in.
    pub measured: State,
    /// Lightest and heaviest animal, kg, for which it is said to hold.
    pub weights_kg: (f64, f64),
    /// Where it comes from.
    pub source: &'static str,
    /// How far to trust it.
    pub confidence: Confidence,
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
#[derive(Clone, Debug, PartialEq)]
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
    pub source: &'static str,
    /// How far to trust it.
    pub confidence: Confidence,
}

const STAHL: &str =
    "Stahl WR, J Appl Physiol 1967;22:453-460 (abstract read, coefficients from memory)";
const TUBE_SIZE: &str = "common practice, no source; follows the cube root of body mass";
const MAMMALS: (f64, f64) = (0.02, 700.0);

/// The mammals' law of each parameter, in the order of [`Parameter::ALL`].
pub const MAMMAL_LAWS: [Law; Parameter::ALL.len()] = [
    Law {
        parameter: Parameter::Compliance,
        species: None,
        coefficient: 1.56,
        exponent: 1.04,
        measured: State::Awake,
        weights_kg: MAMMALS,
        source: STAHL,
        confidence: Confidence::Memory,
    },
    Law {
        parameter: Parameter::AirwayResistance,
        species: None,
        coefficient: 24.4,
        exponent: -0.70,
        measured: State::Anaesthetised,
        weights_kg: MAMMALS,
        source: STAHL,
        confidence: Confidence::Memory,
    },
    tube_diameter(None, 3.6, MAMMALS),
    Law {
        parameter: Parameter::TubeLength,
        species: None,
        coefficient: 12.0,
        exponent: 1.0 / 3.0,
        measured: State::Anaesthetised,
        weights_kg: MAMMALS,
        source: TUBE_SIZE,
        confidence: Confidence::Memory,
    },
];

/// The laws of those species that have one of their own.
pub const SPECIES_LAWS: &[Law] = &[
    Law {
        parameter: Parameter::Compliance,
        species: Some(Species::Cat),
        coefficient: 1.5,
        exponent: 1.0,
        measured: State::Anaesthetised,
        weights_kg: (0.8, 9.0),
        source: "rounded between 6.7 ± 2.2 mL/kg at 5 cmH2O (Martins et al., Front Vet Sci 2022;9:842528) and the mammals' law awake",
        confidence: Confidence::Computed,
    },
    Law {
        parameter: Parameter::Compliance,
        species: Some(Species::Dog),
        coefficient: 1.3,
        exponent: 1.0,
        measured: State::Anaesthetised,
        weights_kg: (1.0, 90.0),
        source: "1.3 ± 0.3 mL/cmH2O/kg in 100 dogs: Asorey et al., J Small Anim Pract 2020;61:617-623 (abstract)",
        confidence: Confidence::Read,
    },
    Law {
        parameter: Parameter::Compliance,
        species: Some(Species::Ferret),
        coefficient: 4.306,
        exponent: 1.0,
        measured: State::Anaesthetised,
        weights_kg: (0.2, 2.5),
        source: "2.48 ± 0.21 mL/cmH2O (dynamic, lung; chest wall almost infinitely compliant) at 0.576 kg: Respiratory mechanics of a small carnivore: the ferret, J Appl Physiol (abstract)",
        confidence: Confidence::Computed,
    },
    Law {
        parameter: Parameter::Compliance,
        species: Some(Species::Rat),
        coefficient: 1.857,
        exponent: 1.0,
        measured: State::Anaesthetised,
        weights_kg: (0.1, 0.8),
        source: "0.57 ± 0.03 mL/cmH2O at 0.307 kg: Lai & Hildebrandt, J Appl Physiol 1978;45:255-260 (abstract)",
        confidence: Confidence::Computed,
    },
    Law {
        parameter: Parameter::Compliance,
        species: Some(Species::Horse),
        coefficient: 0.6,
        exponent: 1.0,
        measured: State::Anaesthetised,
        weights_kg: (60.0, 1000.0),
        source: "bounded by 12 mL/kg (research protocol) at the usual 20-25 cmH2O (J Jpn Vet Anaesth 1993;24(3):21, abstract)",
        confidence: Confidence::Computed,
    },
    Law {
        parameter: Parameter::AirwayResistance,
        species: Some(Species::Cat),
        coefficient: 35.5,
        exponent: -0.70,
        measured: State::Anaesthetised,
        weights_kg: (0.8, 9.0),
        source: "so that the passive time constant, tube included, is the 0.121 ± 0.008 s of adult cats (Zin et al. 1983, Active and passive respiratory mechanics in kittens, abstract)",
        confidence: Confidence::Computed,
    },
    Law {
        parameter: Parameter::AirwayResistance,
        species: Some(Species::Ferret),
        coefficient: 21.52,
        exponent: -0.0858,
        measured: State::Anaesthetised,
        weights_kg: (0.2, 2.5),
        source: "through 24 cmH2O·s/L at 0.28 kg and 22.56 ± 1.61 at 0.576 kg: two ferret studies, J Appl Physiol (abstracts)",
        confidence: Confidence::Computed,
    },
    Law {
        parameter: Parameter::AirwayResistance,
        species: Some(Species::Rat),
        coefficient: 50.5,
        exponent: -0.70,
        measured: State::Anaesthetised,
        weights_kg: (0.1, 0.8),
        source: "10.3 kPa·s/L at 10 Hz (105 cmH2O·s/L, cannula subtracted) at 0.351 kg: forced oscillation in paralysed rats (abstract); slower breathing meets more",
        confidence: Confidence::Computed,
    },
    tube_diameter(Some(Species::Cat), 2.52, (0.8, 9.0)),
    tube_diameter(Some(Species::Rabbit), 2.2, (0.7, 8.0)),
    tube_diameter(Some(Species::Ferret), 2.7, (0.3, 2.5)),
    tube_diameter(Some(Species::GuineaPig), 2.2, (0.2, 1.5)),
    tube_diameter(Some(Species::Rat), 2.45, (0.1, 0.8)),
    tube_diameter(Some(Species::Horse), 3.3, (60.0, 1000.0)),
];

const fn tube_diameter(species: Option<Species>, at_1_kg: f64, weights_kg: (f64, f64)) -> Law {
    Law {
        parameter: Parameter::TubeDiameter,
        species,
        coefficient: at_1_kg,
        exponent: 1.0 / 3.0,
        measured: State::Anaesthetised,
        weights_kg,
        source: TUBE_SIZE,
        confidence: Confidence::Memory,
    }
}

/// Every factor. A species without its own row takes the row of `None`.
pub const FACTORS: &[Factor] = &[
    Factor {
        parameter: Parameter::Compliance,
        species: None,
        when: When::Anaesthetised,
        factor: 0.74,
        source: "static compliance falls by 26 % within 25 min: Corcoran & Abercromby, Vet Rec 1989;125:450-453 (abstract, dogs)",
        confidence: Confidence::Read,
    },
    Factor {
        parameter: Parameter::Compliance,
        species: None,
        when: When::Overweight,
        factor: 0.85,
        source: "lower with a high body condition score (Asorey et al. 2020, abstract); the size is a teaching choice",
        confidence: Confidence::Memory,
    },
    Factor {
        parameter: Parameter::Compliance,
        species: None,
        when: When::Obese,
        factor: 0.65,
        source: "lower with a high body condition score (Asorey et al. 2020, abstract); the size is a teaching choice",
        confidence: Confidence::Memory,
    },
    Factor {
        parameter: Parameter::Compliance,
        species: None,
        when: When::Dorsal,
        factor: 0.9,
        source: "abdominal weight on the diaphragm; the size is a teaching choice",
        confidence: Confidence::Memory,
    },
];
