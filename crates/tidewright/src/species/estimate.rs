//! A typical value with the rows of the table that led to it.

use super::table::{FACTORS, Factor, Law, MAMMAL_LAWS, Parameter, SPECIES_LAWS, When};
use super::{BodyCondition, Condition, Posture, Species, State};
use crate::math::pow;
use crate::quantity::Mass;

/// A typical value and where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// The value in [`Parameter::unit`].
    pub value: f64,
    /// The law it follows.
    pub law: &'static Law,
    /// What the condition of the animal changes, in the order applied; a factor
    /// divides where the law was measured under anaesthesia and the animal is
    /// awake.
    pub factors: Vec<(&'static Factor, Applied)>,
    /// Whether the weight lies in the range of the law.
    pub in_range: bool,
}

/// How a factor was applied.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Applied {
    /// The value was multiplied by it.
    Multiplied,
    /// The value was divided by it.
    Divided,
}

/// The typical value of a parameter: a·Mᵇ times the factors of the condition.
///
/// ```
/// use tidewright::prelude::*;
/// use tidewright::species::{Condition, Parameter, Species, State, estimate};
/// let asleep = Condition::default();
/// let awake = Condition { state: State::Awake, ..asleep };
/// let compliance = |c| estimate(Species::Dog, Parameter::Compliance, Mass::kg(25.0), c);
/// assert_eq!(compliance(asleep).law.source, compliance(awake).law.source);
/// assert!(compliance(asleep).value < compliance(awake).value);
/// assert!(compliance(asleep).in_range);
/// ```
#[must_use]
pub fn estimate(
    species: Species,
    parameter: Parameter,
    weight: Mass,
    condition: Condition,
) -> Estimate {
    let law = law(species, parameter);
    let mass = weight.as_kg();
    let mut value = law.coefficient * pow(mass, law.exponent);
    let mut factors = Vec::new();
    for (when, applied) in changes(law.measured, condition) {
        if let Some(factor) = factor(species, parameter, when) {
            match applied {
                Applied::Multiplied => value *= factor.factor,
                Applied::Divided => value /= factor.factor,
            }
            factors.push((factor, applied));
        }
    }
    let (light, heavy) = law.weights_kg;
    Estimate {
        value,
        law,
        factors,
        in_range: (light..=heavy).contains(&mass),
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

/// What differs between the animal of the law and the animal asked for.
fn changes(measured: State, condition: Condition) -> Vec<(When, Applied)> {
    let mut changes = Vec::new();
    match (measured, condition.state) {
        (State::Awake, State::Anaesthetised) => {
            changes.push((When::Anaesthetised, Applied::Multiplied));
        }
        (State::Anaesthetised, State::Awake) => {
            changes.push((When::Anaesthetised, Applied::Divided));
        }
        _ => {}
    }
    match condition.body {
        BodyCondition::Ideal => {}
        BodyCondition::Overweight => changes.push((When::Overweight, Applied::Multiplied)),
        BodyCondition::Obese => changes.push((When::Obese, Applied::Multiplied)),
    }
    match condition.posture {
        Posture::Lateral => {}
        Posture::Sternal => changes.push((When::Sternal, Applied::Multiplied)),
        Posture::Dorsal => changes.push((When::Dorsal, Applied::Multiplied)),
    }
    changes
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
}
