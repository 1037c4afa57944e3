//! Breathing gases: density and viscosity of their mixtures.
//!
//! ```
//! use tidewright::gases::{Mixture, STANDARD_PRESSURE_PA};
//! let oxygen = Mixture::OXYGEN.properties(37.0, STANDARD_PRESSURE_PA);
//! let air = Mixture::AIR.properties(37.0, STANDARD_PRESSURE_PA);
//! // Oxygen is 11 % more viscous than air, so a laminar tube resists it more.
//! assert!((oxygen.viscosity_pa_s / air.viscosity_pa_s - 1.115).abs() < 0.01);
//! ```

use crate::base::math::{exp, pow};

/// Standard atmosphere, Pa.
pub const STANDARD_PRESSURE_PA: f64 = 101_325.0;
/// Molar gas constant, J/(mol·K), exact by definition of its units.
const GAS_CONSTANT: f64 = 8.314_462_618;
const ICE_POINT_K: f64 = 273.15;
const ROOM_K: f64 = 298.15;

/// A gas that is breathed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gas {
    /// Oxygen, O₂.
    Oxygen,
    /// Nitrogen, N₂, and what comes with it in air.
    Nitrogen,
    /// Carbon dioxide, CO₂.
    CarbonDioxide,
    /// Nitrous oxide, N₂O.
    NitrousOxide,
    /// Water vapour.
    Water,
}

/// What a gas is made of, as far as tubes care.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Pure {
    molar_mass_kg_mol: f64,
    /// Viscosity at 25 °C, Pa·s.
    viscosity_25_c: f64,
    /// Sutherland's temperature, K.
    sutherland_k: f64,
}

impl Gas {
    /// All of them, in the order of the declaration.
    pub const ALL: [Self; 5] =
        [Self::Oxygen, Self::Nitrogen, Self::CarbonDioxide, Self::NitrousOxide, Self::Water];

    /// Viscosity at a temperature, Pa·s: Sutherland's law
    /// µ = µ₂₅·(T/298.15)^1.5·(298.15 + S)/(T + S), T in K.
    ///
    /// µ₂₅ and S were fitted to values of CoolProp 8.0.0 from 5 to 50 °C; the fit
    /// is within 0.04 %, for dilute water vapour within 0.4 %. Those of nitrous
    /// oxide are from memory.
    #[must_use]
    pub fn viscosity_pa_s(self, temperature_c: f64) -> f64 {
        let t = ICE_POINT_K + temperature_c;
        let Pure { viscosity_25_c, sutherland_k: s, .. } = self.pure();
        viscosity_25_c * pow(t / ROOM_K, 1.5) * (ROOM_K + s) / (t + s)
    }

    const fn pure(self) -> Pure {
        let (molar_mass_kg_mol, viscosity_25_c, sutherland_k) = match self {
            Self::Oxygen => (0.031_998_8, 2.055_02e-5, 129.5),
            Self::Nitrogen => (0.028_013_48, 1.780_47e-5, 112.5),
            Self::CarbonDioxide => (0.044_009_8, 1.491_46e-5, 252.0),
            Self::NitrousOxide => (0.044_012_8, 1.48e-5, 260.0),
            Self::Water => (0.018_015_268, 0.970_78e-5, 282.0),
        };
        Pure { molar_mass_kg_mol, viscosity_25_c, sutherland_k }
    }
}

/// Mole fractions of a mixture; they add up to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mixture {
    /// Oxygen.
    pub oxygen: f64,
    /// Nitrogen.
    pub nitrogen: f64,
    /// Carbon dioxide.
    pub carbon_dioxide: f64,
    /// Nitrous oxide.
    pub nitrous_oxide: f64,
    /// Water vapour.
    pub water: f64,
}

/// Density and viscosity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Properties {
    /// Density, kg/m³.
    pub density_kg_m3: f64,
    /// Dynamic viscosity, Pa·s.
    pub viscosity_pa_s: f64,
}

impl Mixture {
    /// Pure oxygen.
    pub const OXYGEN: Self =
        Self { oxygen: 1.0, nitrogen: 0.0, carbon_dioxide: 0.0, nitrous_oxide: 0.0, water: 0.0 };

    /// Dry air, its argon counted as nitrogen.
    pub const AIR: Self = Self { oxygen: 0.2095, nitrogen: 0.7905, ..Self::OXYGEN };

    /// The same gas saturated with water vapour at a temperature and a total
    /// pressure; vapour that was in it is kept out of the count.
    #[must_use]
    pub fn saturated(self, temperature_c: f64, pressure_pa: f64) -> Self {
        let water = water_vapour_pressure_pa(temperature_c) / pressure_pa;
        let room = (1.0 - water) / (1.0 - self.water);
        Self {
            oxygen: self.oxygen * room,
            nitrogen: self.nitrogen * room,
            carbon_dioxide: self.carbon_dioxide * room,
            nitrous_oxide: self.nitrous_oxide * room,
            water,
        }
    }

    /// Density and viscosity at a temperature and a pressure.
    ///
    /// Density is that of an ideal gas, within 0.6 % for pure carbon dioxide and
    /// 0.1 % for the others. Viscosity follows Wilke's rule (Wilke CR, J Chem
    /// Phys 1950;18:517, from memory): µ = Σᵢ xᵢµᵢ/Σⱼ xⱼφᵢⱼ with
    /// φᵢⱼ = (1 + (µᵢ/µⱼ)^½·(Mⱼ/Mᵢ)^¼)²/(8·(1 + Mᵢ/Mⱼ))^½.
    ///
    /// Meant for 5 to 50 °C near atmospheric pressure.
    #[must_use]
    pub fn properties(&self, temperature_c: f64, pressure_pa: f64) -> Properties {
        let parts = Gas::ALL.map(|gas| {
            (self.fraction(gas), gas.pure().molar_mass_kg_mol, gas.viscosity_pa_s(temperature_c))
        });
        let molar_mass: f64 = parts.iter().map(|&(x, mass, _)| x * mass).sum();
        let viscosity = parts
            .iter()
            .map(|&(x, mass, viscosity)| {
                let weight: f64 = parts
                    .iter()
                    .map(|&(other_x, other_mass, other_viscosity)| {
                        let ratio = 1.0
                            + (viscosity / other_viscosity).sqrt()
                                * (other_mass / mass).sqrt().sqrt();
                        other_x * ratio * ratio / (8.0 * (1.0 + mass / other_mass)).sqrt()
                    })
                    .sum();
                x * viscosity / weight
            })
            .sum();
        Properties {
            density_kg_m3: pressure_pa * molar_mass
                / (GAS_CONSTANT * (ICE_POINT_K + temperature_c)),
            viscosity_pa_s: viscosity,
        }
    }

    /// Mole fraction of a gas.
    #[must_use]
    pub const fn fraction(&self, gas: Gas) -> f64 {
        match gas {
            Gas::Oxygen => self.oxygen,
            Gas::Nitrogen => self.nitrogen,
            Gas::CarbonDioxide => self.carbon_dioxide,
            Gas::NitrousOxide => self.nitrous_oxide,
            Gas::Water => self.water,
        }
    }
}

/// Pressure of saturated water vapour over water, Pa:
/// 611.21·exp((18.678 − T/234.5)·T/(257.14 + T)), T in °C (Buck's equation, from
/// memory; within 0.05 % of CoolProp 8.0.0 from 5 to 50 °C).
#[must_use]
pub fn water_vapour_pressure_pa(temperature_c: f64) -> f64 {
    let t = temperature_c;
    611.21 * exp((18.678 - t / 234.5) * t / (257.14 + t))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(value: f64, expected: f64, relative: f64) {
        assert!((value / expected - 1.0).abs() < relative, "{value}, expected {expected}");
    }

    /// CoolProp 8.0.0 at 101325 Pa, run for these rows: °C, density, viscosity.
    #[test]
    fn published_properties_of_air_and_oxygen() {
        let rows = [
            (Mixture::AIR, 20.0, 1.2046, 1.8206e-5, 5e-3),
            (Mixture::AIR, 25.0, 1.1843, 1.8448e-5, 5e-3),
            (Mixture::AIR, 37.0, 1.1384, 1.9023e-5, 5e-3),
            (Mixture::OXYGEN, 20.0, 1.3312, 2.0273e-5, 1e-3),
            (Mixture::OXYGEN, 25.0, 1.3088, 2.0550e-5, 1e-3),
            (Mixture::OXYGEN, 37.0, 1.2580, 2.1209e-5, 1e-3),
        ];
        for (gas, celsius, density, viscosity, within) in rows {
            let properties = gas.properties(celsius, STANDARD_PRESSURE_PA);
            near(properties.density_kg_m3, density, within);
            near(properties.viscosity_pa_s, viscosity, within);
        }
    }

    /// CoolProp 8.0.0: 872.58, 2339.3, 6282.3 and 12352 Pa.
    #[test]
    fn published_water_vapour_pressure() {
        for (celsius, pa) in [(5.0, 872.58), (20.0, 2339.3), (37.0, 6282.3), (50.0, 12352.0)] {
            near(water_vapour_pressure_pa(celsius), pa, 5e-4);
        }
    }

    #[test]
    fn closed_form_a_mixture_of_a_gas_with_itself_is_that_gas() {
        let half = Mixture { oxygen: 0.5, nitrous_oxide: 0.5, ..Mixture::OXYGEN };
        let mixed = half.properties(30.0, STANDARD_PRESSURE_PA);
        let (a, b) = (Gas::Oxygen.viscosity_pa_s(30.0), Gas::NitrousOxide.viscosity_pa_s(30.0));
        assert!(b < mixed.viscosity_pa_s && mixed.viscosity_pa_s < a);
        near(Mixture::OXYGEN.properties(30.0, STANDARD_PRESSURE_PA).viscosity_pa_s, a, 1e-15);
    }

    #[test]
    fn closed_form_saturated_gas_is_lighter_and_whole() {
        let wet = Mixture::AIR.saturated(37.0, STANDARD_PRESSURE_PA);
        let sum: f64 = Gas::ALL.into_iter().map(|gas| wet.fraction(gas)).sum();
        assert!((sum - 1.0).abs() < 1e-15);
        assert!((wet.water - 0.062).abs() < 1e-3);
        let density = |gas: Mixture| gas.properties(37.0, STANDARD_PRESSURE_PA).density_kg_m3;
        assert!(density(wet) < density(Mixture::AIR));
    }
}
