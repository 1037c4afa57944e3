//! How one animal differs from the typical one.

use rand::Rng;

use super::parameter::Parameter;
use crate::base::math::exp;
use crate::base::random::{generator, standard_normal};

/// The differences of one animal from the typical one, drawn by a seed.
///
/// Each parameter is the typical value times e^(σ·z), z a normal draw. What
/// belongs together moves together: a large lung for the weight has a high
/// compliance, functional residual capacity, dead space and tidal volume and a
/// low airway resistance; a fast metabolism goes with a high cardiac output and
/// rate. Draws beyond ±2.5 are drawn again, so that no animal is a freak.
///
/// The same seed gives the same animal, whatever its species or weight.
///
/// ```
/// use tidewright::prelude::*;
/// use tidewright::species::{Animal, Parameter, Species};
/// let a = Animal::individual(Species::Cat, Mass::kg(4.0), 1);
/// let b = Animal::individual(Species::Cat, Mass::kg(4.0), 2);
/// assert_ne!(a.value(Parameter::Compliance), b.value(Parameter::Compliance));
/// ```
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Variation {
    lung_size: f64,
    metabolism: f64,
    own: [f64; Parameter::ALL.len()],
}

/// How much a parameter differs between animals, and with what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Standard deviation of its natural logarithm.
    pub log_sd: f64,
    /// Correlation with the size of the lung.
    pub with_lung_size: f64,
    /// Correlation with the speed of metabolism.
    pub with_metabolism: f64,
}

/// The spread of a parameter; `None` where all animals of a weight are alike.
///
/// Spreads: compliance 1.3 ± 0.3 mL/cmH2O/kg (Asorey et al. 2020, 100 dogs) and
/// functional residual capacity 38.6 ± 8.2 mL/kg (67 dogs, J Appl Physiol
/// 1978;44:291) read in the abstracts; oxygen consumption from a standard error
/// of 0.27 on 3.54 in six dogs (Mikat et al. 1984); P50 from 30.0 ± 1.3 and
/// 34.1 ± 1.8 mmHg (Cambier et al. 2004); dog arterial CO2 from 36.8 ± 2.4. The
/// other spreads and all correlations are teaching choices.
#[must_use]
pub fn spread(parameter: Parameter) -> Option<Spread> {
    let (log_sd, with_lung_size, with_metabolism) = match parameter {
        Parameter::Compliance => (0.23, 0.8, 0.0),
        Parameter::FunctionalResidualCapacity => (0.21, 0.8, 0.0),
        Parameter::DeadSpace => (0.15, 0.7, 0.0),
        Parameter::AirwayResistance => (0.25, -0.6, 0.0),
        Parameter::TidalVolume => (0.20, 0.5, 0.4),
        Parameter::Rate => (0.20, -0.3, 0.4),
        Parameter::OxygenConsumption => (0.19, 0.0, 0.9),
        Parameter::CardiacOutput => (0.20, 0.0, 0.6),
        Parameter::BloodVolume => (0.10, 0.0, 0.0),
        Parameter::Haemoglobin => (0.10, 0.0, 0.0),
        Parameter::HalfSaturation => (0.045, 0.0, 0.0),
        Parameter::ArterialCarbonDioxide => (0.065, 0.0, 0.0),
        Parameter::Bicarbonate => (0.08, 0.0, 0.0),
        Parameter::HeartRate => (0.15, 0.0, 0.4),
        Parameter::ArterialPressure => (0.12, 0.0, 0.0),
        Parameter::TubeDiameter
        | Parameter::TubeLength
        | Parameter::RespiratoryQuotient
        | Parameter::BohrSlope
        | Parameter::TemperatureSlope
        | Parameter::Temperature
        | Parameter::FastCarbonDioxideStore
        | Parameter::SlowCarbonDioxideStore
        | Parameter::SlowTissueFlow
        | Parameter::LungTissueSpace
        | Parameter::Shunt
        | Parameter::AlveolarDeadSpace => return None,
    };
    Some(Spread { log_sd, with_lung_size, with_metabolism })
}

impl Variation {
    /// The animal of a seed.
    #[must_use]
    pub fn from_seed(seed: u64) -> Self {
        let mut generator = generator(seed);
        Self {
            lung_size: usual(&mut generator),
            metabolism: usual(&mut generator),
            own: std::array::from_fn(|_| usual(&mut generator)),
        }
    }

    /// What the typical value is multiplied by.
    #[must_use]
    pub fn factor(&self, parameter: Parameter) -> f64 {
        spread(parameter).map_or(1.0, |spread| {
            let (a, b) = (spread.with_lung_size, spread.with_metabolism);
            let rest = (1.0 - a * a - b * b).sqrt();
            let z = a * self.lung_size + b * self.metabolism + rest * self.own[parameter as usize];
            exp(spread.log_sd * z)
        })
    }
}

/// A normal draw that is not extreme.
fn usual(generator: &mut impl Rng) -> f64 {
    loop {
        let z = standard_normal(generator);
        if z.abs() <= 2.5 {
            return z;
        }
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::base::math::ln;

    fn logs(parameter: Parameter) -> Vec<f64> {
        (0..4000).map(|seed| ln(Variation::from_seed(seed).factor(parameter))).collect()
    }

    fn correlation(a: &[f64], b: &[f64]) -> f64 {
        let product = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(x, y)| x * y).sum::<f64>();
        product(a, b) / (product(a, a) * product(b, b)).sqrt()
    }

    #[test]
    fn closed_form_spread_and_correlation_are_the_stated_ones() {
        let [compliance, volume, resistance, oxygen] = [
            Parameter::Compliance,
            Parameter::FunctionalResidualCapacity,
            Parameter::AirwayResistance,
            Parameter::OxygenConsumption,
        ]
        .map(logs);
        let sd = (compliance.iter().map(|x| x * x).sum::<f64>() / 4000.0).sqrt();
        // A normal cut at ±2.5 has a standard deviation of
        // √(1 − 5·φ(2.5)/(2Φ(2.5) − 1)).
        let density = exp(-2.5 * 2.5 / 2.0) / TAU.sqrt();
        let cut = (1.0 - 5.0 * density / 0.987_580_669_348_447_7).sqrt();
        assert!((sd / (0.23 * cut) - 1.0).abs() < 0.04, "{sd}");
        assert!((correlation(&compliance, &volume) - 0.64).abs() < 0.04);
        assert!((correlation(&compliance, &resistance) + 0.48).abs() < 0.04);
        assert!(correlation(&compliance, &oxygen).abs() < 0.04);
    }

    #[test]
    fn every_correlation_leaves_room_for_the_individual() {
        for spread in Parameter::ALL.into_iter().filter_map(spread) {
            let shared = spread.with_lung_size * spread.with_lung_size
                + spread.with_metabolism * spread.with_metabolism;
            assert!(shared < 1.0);
        }
    }
}
