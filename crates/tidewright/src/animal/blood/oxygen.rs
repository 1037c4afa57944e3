//! The oxygen curve of haemoglobin and the oxygen that blood carries.

use crate::animal::species::{Animal, Parameter, Species};
use crate::base::math::{cbrt, pow};
use crate::base::quantity::PartialPressure;

/// Oxygen that 1 g of haemoglobin binds when full, mL STPD (textbook value, from
/// memory: 1.31 to 1.39 are in use).
pub const OXYGEN_PER_G_HAEMOGLOBIN_ML: f64 = 1.34;

/// Oxygen dissolved in blood, mL STPD for each dL and mmHg (textbook value).
pub const OXYGEN_SOLUBILITY_ML_DL_MMHG: f64 = 0.0031;

/// Saturation of haemoglobin as a function of oxygen pressure:
///
/// S = 1 / (b/(p³ + a·p) + 1), p = P·stretch·10^−(Bohr·(pH − 7.4) + k·(T − T₀))
///
/// with P, p and √a in mmHg. One of two published shapes, a and b, is stretched
/// along the pressure axis to the species' P50 (mammalian curves are alike up to
/// such a stretch: Reeves et al. found it of dog and man).
///
/// ```
/// use tidewright::prelude::*;
/// use tidewright::blood::OxygenCurve;
/// let human = OxygenCurve::HUMAN;
/// assert!((human.saturation(PartialPressure::mmhg(40.0), 7.4) - 0.7495).abs() < 1e-4);
/// assert!((human.half_saturation(7.4).as_mmhg() - 26.86).abs() < 0.01);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct OxygenCurve {
    shape: Shape,
    stretch: f64,
    bohr_slope: f64,
    temperature_slope_per_k: f64,
    reference_temperature_c: f64,
    temperature_c: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Shape {
    a: f64,
    b: f64,
}

/// Severinghaus JW, J Appl Physiol 1979;46:599-602, equation 1 (abstract).
const HUMAN_SHAPE: Shape = Shape { a: 150.0, b: 23_400.0 };
/// Reeves RB et al., J Appl Physiol 1982;53:87-95 (abstract).
const DOG_SHAPE: Shape = Shape { a: 205.0, b: 37_900.0 };

impl OxygenCurve {
    /// Human blood at 37 °C (Severinghaus 1979); shifts by the slopes that the
    /// same paper gives at its P50.
    pub const HUMAN: Self = Self {
        shape: HUMAN_SHAPE,
        stretch: 1.0,
        bohr_slope: -0.521,
        temperature_slope_per_k: 0.0304,
        reference_temperature_c: 37.0,
        temperature_c: 37.0,
    };

    /// Dog blood at 39 °C as Reeves et al. 1982 published it.
    pub const DOG_AT_39_C: Self = Self {
        shape: DOG_SHAPE,
        stretch: 1.0,
        bohr_slope: -0.488,
        temperature_slope_per_k: 0.022,
        reference_temperature_c: 39.0,
        temperature_c: 39.0,
    };

    /// The curve of an animal at its usual temperature.
    #[must_use]
    pub fn of(animal: &Animal) -> Self {
        let shape = if animal.species == Species::Dog { DOG_SHAPE } else { HUMAN_SHAPE };
        Self {
            shape,
            stretch: shape.pressure(0.5) / animal.value(Parameter::HalfSaturation),
            bohr_slope: animal.value(Parameter::BohrSlope),
            temperature_slope_per_k: animal.value(Parameter::TemperatureSlope),
            reference_temperature_c: 37.0,
            temperature_c: animal.value(Parameter::Temperature),
        }
    }

    /// The same blood at another temperature, °C.
    #[must_use]
    pub fn at_temperature(self, temperature_c: f64) -> Self {
        Self { temperature_c, ..self }
    }

    /// Saturation at an oxygen pressure and a pH, 0 to 1; 0 for no pressure.
    #[must_use]
    pub fn saturation(&self, oxygen: PartialPressure, ph: f64) -> f64 {
        self.shape.saturation(oxygen.as_mmhg().max(0.0) * self.standard_pressure_factor(ph))
    }

    /// Oxygen pressure at a saturation (0 to below 1) and a pH.
    #[must_use]
    pub fn pressure(&self, saturation: f64, ph: f64) -> PartialPressure {
        PartialPressure::mmhg(self.shape.pressure(saturation) / self.standard_pressure_factor(ph))
    }

    /// P50 at a pH.
    #[must_use]
    pub fn half_saturation(&self, ph: f64) -> PartialPressure {
        self.pressure(0.5, ph)
    }

    /// What an oxygen pressure is multiplied by to give the pressure that
    /// saturates the published shape as far.
    pub(crate) fn standard_pressure_factor(&self, ph: f64) -> f64 {
        let shift = self.bohr_slope * (ph - 7.4)
            + self.temperature_slope_per_k * (self.temperature_c - self.reference_temperature_c);
        self.stretch * pow(10.0, -shift)
    }

    /// Saturation at a standard pressure; see [`Self::standard_pressure_factor`].
    pub(crate) fn saturation_at_standard(&self, pressure_mmhg: f64) -> f64 {
        self.shape.saturation(pressure_mmhg)
    }

    /// How fast saturation rises there, 1/mmHg.
    pub(crate) fn slope_at_standard(&self, pressure_mmhg: f64) -> f64 {
        self.shape.slope(pressure_mmhg)
    }

    /// Standard pressure at a saturation, 0 to below 1.
    pub(crate) fn standard_pressure(&self, saturation: f64) -> f64 {
        self.shape.pressure(saturation)
    }
}

impl Shape {
    fn saturation(self, p: f64) -> f64 {
        let load = p * (p * p + self.a);
        load / (self.b + load)
    }

    fn slope(self, p: f64) -> f64 {
        let load = p * (p * p + self.a);
        self.b * (3.0 * p * p + self.a) / ((self.b + load) * (self.b + load))
    }

    /// The one real root of p³ + a·p = q, q = b·S/(1 − S), by Cardano, and one
    /// Newton step for the digits that cancel when q is small.
    fn pressure(self, saturation: f64) -> f64 {
        let half = self.b * saturation / (1.0 - saturation) / 2.0;
        let third = self.a / 3.0;
        let root = cbrt(half + (half * half + third * third * third).sqrt());
        let p = root - third / root;
        p - (p * (p * p + self.a) - 2.0 * half) / (3.0 * p * p + self.a)
    }
}

/// Oxygen carried by blood, mL/dL: bound to haemoglobin (g/dL) and dissolved.
#[must_use]
pub fn oxygen_content(haemoglobin_g_dl: f64, saturation: f64, oxygen_mmhg: f64) -> f64 {
    OXYGEN_PER_G_HAEMOGLOBIN_ML * haemoglobin_g_dl * saturation
        + OXYGEN_SOLUBILITY_ML_DL_MMHG * oxygen_mmhg
}

/// The oxygen pressure at which blood of a given pH carries a content (mL/dL);
/// zero for no content.
#[must_use]
pub fn oxygen_pressure(
    curve: &OxygenCurve,
    haemoglobin_g_dl: f64,
    content: f64,
    ph: f64,
) -> PartialPressure {
    let factor = curve.standard_pressure_factor(ph);
    let excess =
        |p: f64| oxygen_content(haemoglobin_g_dl, curve.shape.saturation(p * factor), p) - content;
    if content <= 0.0 {
        return PartialPressure::ZERO;
    }
    // Content rises with pressure at least as fast as the dissolved part does.
    let (mut low, mut high) = (0.0, content / OXYGEN_SOLUBILITY_ML_DL_MMHG);
    for _ in 0..200 {
        let middle = low + (high - low) / 2.0;
        if middle <= low || middle >= high {
            break;
        }
        if excess(middle) > 0.0 {
            high = middle;
        } else {
            low = middle;
        }
    }
    PartialPressure::mmhg(low)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::quantity::Mass;

    fn at(curve: &OxygenCurve, mmhg: f64) -> f64 {
        curve.saturation(PartialPressure::mmhg(mmhg), 7.4)
    }

    /// Computed from Severinghaus 1979, equation 1, to four digits.
    #[test]
    fn published_human_curve() {
        for (p, s) in [(40.0, 0.7495), (60.0, 0.9058), (100.0, 0.9775)] {
            assert!((at(&OxygenCurve::HUMAN, p) - s).abs() < 5e-5, "{p}");
        }
        assert!((OxygenCurve::HUMAN.half_saturation(7.4).as_mmhg() - 26.86).abs() < 5e-3);
    }

    /// Severinghaus 1979, equation 2: ln P = 0.385·ln(1/(1/S − 1)) + 3.32 −
    /// 1/(72·S) − 0.17·S⁶; its author gives an error of the curve of 0.0055.
    #[test]
    fn published_inverse_of_the_human_curve() {
        use crate::base::math::{exp, ln};
        for s in [0.2, 0.4, 0.5, 0.7, 0.9, 0.95] {
            let published = exp(0.385 * ln(1.0 / (1.0 / s - 1.0)) + 3.32
                - 1.0 / (72.0 * s)
                - 0.17 * pow(s, 6.0));
            assert!((at(&OxygenCurve::HUMAN, published) - s).abs() < 0.0055, "{s}");
        }
    }

    /// Computed from the equation in the abstract of Reeves et al. 1982, which
    /// gives P50 as 31.5 Torr.
    #[test]
    fn published_dog_curve() {
        for (p, s) in [(40.0, 0.6558), (60.0, 0.8576), (100.0, 0.9642)] {
            assert!((at(&OxygenCurve::DOG_AT_39_C, p) - s).abs() < 5e-5, "{p}");
        }
        assert!((OxygenCurve::DOG_AT_39_C.half_saturation(7.4).as_mmhg() - 31.56).abs() < 5e-3);
        // P50 at 25 °C: 15.4 Torr.
        let cold = OxygenCurve::DOG_AT_39_C.at_temperature(25.0).half_saturation(7.4).as_mmhg();
        assert!((cold - 15.4).abs() < 0.2, "{cold}");
    }

    /// P50 at pH 7.4 and 37 °C, mmHg (abstracts): cat 34.1 and dog 30.0 (Cambier
    /// et al. 2004), horse 23.8 and man 26.6 (Clerbaux et al. 1993).
    #[test]
    fn published_half_saturations() {
        for (species, p50) in [
            (Species::Cat, 34.1),
            (Species::Dog, 30.0),
            (Species::Horse, 23.8),
            (Species::Other, 26.6),
        ] {
            let curve = OxygenCurve::of(&Animal::typical(species, Mass::kg(10.0)));
            let half = curve.at_temperature(37.0).half_saturation(7.4).as_mmhg();
            assert!((half - p50).abs() < 1e-9, "{species}: {half}");
            let acid = curve.at_temperature(37.0).half_saturation(7.2).as_mmhg();
            assert!(acid > half);
        }
    }

    #[test]
    fn closed_form_pressure_undoes_saturation() {
        let curve = OxygenCurve::of(&Animal::typical(Species::Cat, Mass::kg(4.0)));
        for exponent in -60..=30 {
            let p = pow(10.0, f64::from(exponent) / 10.0);
            let s = curve.saturation(PartialPressure::mmhg(p), 7.3);
            let back = curve.pressure(s, 7.3).as_mmhg();
            // 1 − S has lost the digits that S near 1 cannot hold.
            assert!((back / p - 1.0).abs() < 1e-14 / (1.0 - s), "{p}: {back}");
        }
    }

    #[test]
    fn pressure_undoes_content() {
        let curve = OxygenCurve::HUMAN;
        for p in [1e-3, 1.0, 20.0, 60.0, 100.0, 500.0, 700.0] {
            let s = curve.saturation(PartialPressure::mmhg(p), 7.4);
            let back = oxygen_pressure(&curve, 15.0, oxygen_content(15.0, s, p), 7.4).as_mmhg();
            assert!((back / p - 1.0).abs() < 1e-11, "{p}: {back}");
        }
    }
}
