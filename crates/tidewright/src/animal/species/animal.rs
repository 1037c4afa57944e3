//! One animal: its typical values, or an individual's.

use super::Species;
use super::condition::{BodyCondition, Condition, Posture, State};
use super::parameter::Parameter;
use super::table::{FACTORS, Factor, Law, MAMMAL_LAWS, SPECIES_LAWS, When};
use super::variation::Variation;
use crate::base::math::pow;
use crate::base::quantity::{Compliance, Flow, Mass, Resistance};
use crate::laws::gases::{Mixture, STANDARD_PRESSURE_PA};
use crate::laws::tube::SmoothTube;
use crate::setup::{Compartment, Lung, Tube};

/// An animal of a species, a weight and a condition.
///
/// ```
/// use tidewright::prelude::*;
/// use tidewright::species::{Animal, Condition, Parameter, Species, State};
/// let asleep = Animal::typical(Species::Dog, Mass::kg(25.0));
/// let mut awake = asleep.clone();
/// awake.condition.state = State::Awake;
/// let ratio = asleep.value(Parameter::Compliance) / awake.value(Parameter::Compliance);
/// assert!((ratio - 0.74).abs() < 1e-12);
/// ```
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Animal {
    /// Its kind.
    pub species: Species,
    /// Body mass; above 0.
    pub weight: Mass,
    /// Its state.
    pub condition: Condition,
    /// How it differs from the typical animal; `None` for the typical one.
    pub variation: Option<Variation>,
}

/// Factor on metabolism for each 10 °C (textbook value, from memory: 2 to 2.5).
pub const METABOLIC_Q10: f64 = 2.3;

/// A value of an animal and where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// The value in [`Parameter::unit`].
    pub value: f64,
    /// The law it follows.
    pub law: &'static Law,
    /// What the condition of the animal changes, in the order applied.
    pub factors: Vec<(&'static Factor, Applied)>,
    /// What the individual changes; 1 for the typical animal.
    pub individual: f64,
}

/// How a factor was applied.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Applied {
    /// The value was multiplied by it.
    Multiplied,
    /// The value was divided by it: the law was measured under anaesthesia and
    /// the animal is awake.
    Divided,
}

impl Animal {
    /// The typical animal: anaesthetised, of ideal body condition, on its side.
    #[must_use]
    pub fn typical(species: Species, weight: Mass) -> Self {
        Self { species, weight, condition: Condition::default(), variation: None }
    }

    /// One animal of many, drawn by a seed; see [`Variation`].
    #[must_use]
    pub fn individual(species: Species, weight: Mass, seed: u64) -> Self {
        Self { variation: Some(Variation::from_seed(seed)), ..Self::typical(species, weight) }
    }

    /// Whether the weight is one that such an animal usually has; outside, the
    /// laws are stretched beyond the animals they came from.
    #[must_use]
    pub fn has_usual_weight(&self) -> bool {
        let (light, heavy) = self.species.usual_weight_kg();
        (light..=heavy).contains(&self.weight.as_kg())
    }

    /// The value of a parameter in [`Parameter::unit`].
    #[must_use]
    pub fn value(&self, parameter: Parameter) -> f64 {
        self.estimate(parameter).value
    }

    /// The value of a parameter with the law and the factors that led to it.
    #[must_use]
    pub fn estimate(&self, parameter: Parameter) -> Estimate {
        let law = law(self.species, parameter);
        let mut value = law.coefficient * pow(self.weight.as_kg(), law.exponent);
        let mut factors = Vec::new();
        for (when, applied) in changes(law.measured, self.condition) {
            if let Some(factor) = factor(self.species, parameter, when) {
                match applied {
                    Applied::Multiplied => value *= factor.factor,
                    Applied::Divided => value /= factor.factor,
                }
                factors.push((factor, applied));
            }
        }
        let individual =
            self.variation.as_ref().map_or(1.0, |variation| variation.factor(parameter));
        Estimate { value: value * individual, law, factors, individual }
    }

    /// Oxygen used at a core temperature in °C, mL/min STPD.
    ///
    /// The typical consumption belongs to the usual temperature; it changes by
    /// [`METABOLIC_Q10`] for each 10 °C. Meant for 30 to 43 °C.
    #[must_use]
    pub fn oxygen_consumption(&self, temperature_c: f64) -> f64 {
        let warmer_by = temperature_c - self.value(Parameter::Temperature);
        self.value(Parameter::OxygenConsumption) * pow(METABOLIC_Q10, warmer_by / 10.0)
    }

    /// Carbon dioxide made at a core temperature in °C, mL/min STPD: oxygen used
    /// times the respiratory quotient.
    #[must_use]
    pub fn carbon_dioxide_production(&self, temperature_c: f64) -> f64 {
        self.oxygen_consumption(temperature_c) * self.value(Parameter::RespiratoryQuotient)
    }

    /// The endotracheal tube, filled with oxygen at body temperature.
    #[must_use]
    pub fn tube(&self) -> SmoothTube {
        let oxygen = Mixture::OXYGEN.properties(37.0, STANDARD_PRESSURE_PA);
        let value = |parameter| self.value(parameter);
        SmoothTube::new(value(Parameter::TubeDiameter), value(Parameter::TubeLength), oxygen)
    }

    /// Volume of the endotracheal tube, mL; none when awake.
    #[must_use]
    pub fn tube_volume_ml(&self) -> f64 {
        match self.condition.state {
            State::Awake => 0.0,
            State::Anaesthetised => {
                let radius_cm = self.value(Parameter::TubeDiameter) / 20.0;
                std::f64::consts::PI * radius_cm * radius_cm * self.value(Parameter::TubeLength)
            }
        }
    }

    /// The lung, with the endotracheal tube as [`Lung::tube`] when
    /// anaesthetised: what the tube takes at 10 mL/s for each kg, divided by that
    /// flow. An awake animal has no tube; the resistance of its nose is not added.
    #[must_use]
    pub fn lung(&self) -> Lung {
        let tube = match self.condition.state {
            State::Awake => Tube::None,
            State::Anaesthetised => {
                let flow = Flow::ml_s(10.0 * self.weight.as_kg());
                Tube::Linear(self.tube().resistance_at(flow))
            }
        };
        Lung {
            compartments: vec![Compartment::new(
                Compliance::ml_per_cmh2o(self.value(Parameter::Compliance)),
                Resistance::cmh2o_s_per_l(self.value(Parameter::AirwayResistance)),
            )],
            tube,
            ..Lung::default()
        }
    }
}

/// The species' own row, or else the mammals'.
fn law(species: Species, parameter: Parameter) -> &'static Law {
    SPECIES_LAWS
        .iter()
        .find(|law| law.parameter == parameter && law.species == Some(species))
        .unwrap_or(&MAMMAL_LAWS[parameter as usize])
}

fn factor(species: Species, parameter: Parameter, when: When) -> Option<&'static Factor> {
    let row = |wanted: Option<Species>| {
        FACTORS.iter().find(|factor| {
            factor.parameter == parameter && factor.when == when && factor.species == wanted
        })
    };
    row(Some(species)).or_else(|| row(None))
}

/// What differs between the animals of a law and the animal asked for.
fn changes(measured: State, condition: Condition) -> impl Iterator<Item = (When, Applied)> {
    let state = match (measured, condition.state) {
        (State::Awake, State::Anaesthetised) => Some((When::Anaesthetised, Applied::Multiplied)),
        (State::Anaesthetised, State::Awake) => Some((When::Anaesthetised, Applied::Divided)),
        _ => None,
    };
    let body = match condition.body {
        BodyCondition::Ideal => None,
        BodyCondition::Overweight => Some((When::Overweight, Applied::Multiplied)),
        BodyCondition::Obese => Some((When::Obese, Applied::Multiplied)),
    };
    let posture = match condition.posture {
        Posture::Lateral => None,
        Posture::Sternal => Some((When::Sternal, Applied::Multiplied)),
        Posture::Dorsal => Some((When::Dorsal, Applied::Multiplied)),
    };
    [state, body, posture].into_iter().flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mammals_rows_stand_in_the_order_of_the_parameters() {
        for (law, parameter) in MAMMAL_LAWS.iter().zip(Parameter::ALL) {
            assert_eq!(law.parameter, parameter);
            assert_eq!(Parameter::ALL[parameter as usize], parameter);
            assert_eq!(law.species, None);
        }
    }

    #[test]
    fn no_species_has_two_laws_for_one_parameter() {
        for (i, a) in SPECIES_LAWS.iter().enumerate() {
            assert!(a.species.is_some());
            for b in &SPECIES_LAWS[..i] {
                assert!((a.parameter, a.species) != (b.parameter, b.species));
            }
        }
    }

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value / expected - 1.0).abs() <= relative, "{value}, expected {expected}");
    }

    fn asleep(species: Species, kg: f64, parameter: Parameter) -> f64 {
        Animal::typical(species, Mass::kg(kg)).value(parameter)
    }

    /// Each value is one that an abstract states; see the table's sources.
    #[test]
    fn published_measurements_are_met_at_their_own_weight() {
        use Parameter::*;
        near(asleep(Species::Dog, 20.0, Compliance), 26.0, 1e-12);
        near(asleep(Species::Rat, 0.307, Compliance), 0.57, 1e-3);
        near(asleep(Species::Rat, 0.307, FunctionalResidualCapacity), 2.51, 1e-3);
        near(asleep(Species::Ferret, 0.576, Compliance), 2.48, 1e-3);
        near(asleep(Species::Ferret, 0.576, AirwayResistance), 22.56, 1e-3);
        near(asleep(Species::Ferret, 0.28, AirwayResistance), 24.0, 1e-3);
        near(asleep(Species::Ferret, 0.576, FunctionalResidualCapacity), 17.8, 1e-2);
        near(asleep(Species::Cat, 2.6, OxygenConsumption), 18.5, 1e-2);
        near(asleep(Species::Cat, 2.6, TidalVolume), 26.0, 1e-2);
        near(asleep(Species::Cat, 2.6, Rate), 15.0, 1e-2);
        // Six ventilated cats: 0.90 mL/beat/kg, 140 beats a minute at 4 kg.
        near(asleep(Species::Cat, 4.0, CardiacOutput) / 4.0, 0.90 * 140.0, 1e-2);
        // Six dogs of 22 to 25 kg, isoflurane: 156 mL/kg/min.
        near(asleep(Species::Dog, 23.5, CardiacOutput) / 23.5, 156.0, 1e-2);
        // Mikat 1984: 3.54 ± 0.27 mL/kg/min under halothane, dogs of usual size.
        near(asleep(Species::Dog, 25.0, OxygenConsumption) / 25.0, 3.54, 0.08);
        // Lai & Hildebrandt: lung 0.90 and chest wall 1.50 mL/cmH2O in series.
        near(asleep(Species::Rat, 0.307, Compliance), 1.0 / (1.0 / 0.90 + 1.0 / 1.50), 0.02);
        // Awake, the dog's own law and the mammals' agree at 25 kg (1.77 mL/cmH2O/kg).
        let mut dog = Animal::typical(Species::Dog, Mass::kg(25.0));
        dog.condition.state = State::Awake;
        near(dog.value(Compliance) / 25.0, 1.77, 0.02);
    }

    /// Evaluations of the mammals' laws, computed beside the formulae.
    #[test]
    fn closed_form_mammals_laws_at_four_weights() {
        use Parameter::*;
        let rows = [
            // kg, VT, rate, dead space, compliance, resistance, cardiac output
            (0.3, 2.20, 73.2, 0.869, 0.446, 56.7, 70.5),
            (4.0, 32.5, 37.3, 10.4, 6.60, 9.25, 575.0),
            (25.0, 219.0, 23.2, 60.7, 44.4, 2.56, 2536.0),
            (500.0, 4930.0, 10.6, 1076.0, 1000.0, 0.315, 28708.0),
        ];
        for (kg, tidal, rate, dead, compliance, resistance, output) in rows {
            let mut animal = Animal::typical(Species::Other, Mass::kg(kg));
            animal.condition.state = State::Awake;
            near(animal.value(TidalVolume), tidal, 5e-3);
            near(animal.value(Rate), rate, 5e-3);
            near(animal.value(DeadSpace), dead, 5e-3);
            near(animal.value(Compliance), compliance, 5e-3);
            near(animal.value(AirwayResistance), resistance, 5e-3);
            near(animal.value(CardiacOutput), output, 5e-3);
        }
    }
}
