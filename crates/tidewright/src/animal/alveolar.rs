//! The equations of alveolar gas: what ventilation does to its pressures.
//!
//! Barometric and partial pressures are in mmHg; oxygen used and carbon dioxide
//! made are in mL/min STPD, ventilation in L/min BTPS.

use crate::base::quantity::PartialPressure;

/// Standard atmosphere, mmHg.
pub const STANDARD_PRESSURE_MMHG: f64 = 760.0;
/// Ice point, K.
pub const ICE_POINT_K: f64 = 273.15;
/// Body temperature of the BTPS convention, °C.
pub const BTPS_TEMPERATURE_C: f64 = 37.0;
/// Water vapour pressure at 37 °C, mmHg (CoolProp 8.0.0 gives 47.12).
pub const WATER_VAPOUR_MMHG: f64 = 47.0;

/// Volume that 1 mL of dry gas at 0 °C and 760 mmHg takes up in the lung: at
/// 37 °C, saturated with water vapour, under a barometric pressure.
///
/// ```
/// use tidewright::alveolar::btps_per_stpd;
/// use tidewright::prelude::*;
/// assert!((btps_per_stpd(PartialPressure::mmhg(760.0)) - 1.2103).abs() < 5e-5);
/// ```
#[must_use]
pub fn btps_per_stpd(barometric: PartialPressure) -> f64 {
    (ICE_POINT_K + BTPS_TEMPERATURE_C) / ICE_POINT_K * STANDARD_PRESSURE_MMHG
        / (barometric.as_mmhg() - WATER_VAPOUR_MMHG)
}

/// The constant k of PACO₂ = k·V̇CO₂/V̇A, mmHg·L/mL: 0.863.
///
/// A fraction V̇CO₂·(BTPS/STPD)/V̇A of a dry alveolar pressure PB − 47; the
/// barometric pressure cancels, leaving 760·(310.15/273.15)/1000.
#[must_use]
pub const fn alveolar_ventilation_constant() -> f64 {
    STANDARD_PRESSURE_MMHG * (ICE_POINT_K + BTPS_TEMPERATURE_C) / ICE_POINT_K / 1000.0
}

/// Alveolar carbon dioxide pressure of a steady state without inspired carbon
/// dioxide: 0.863·V̇CO₂/V̇A.
///
/// ```
/// use tidewright::alveolar::alveolar_carbon_dioxide;
/// assert!((alveolar_carbon_dioxide(200.0, 4.2).as_mmhg() - 41.1).abs() < 0.05);
/// ```
#[must_use]
pub fn alveolar_carbon_dioxide(
    production_ml_min_stpd: f64,
    ventilation_l_min_btps: f64,
) -> PartialPressure {
    PartialPressure::mmhg(
        alveolar_ventilation_constant() * production_ml_min_stpd / ventilation_l_min_btps,
    )
}

/// Oxygen pressure of inspired gas once it is warm and wet: FIO₂·(PB − 47).
#[must_use]
pub fn inspired_oxygen(fraction: f64, barometric: PartialPressure) -> PartialPressure {
    PartialPressure::mmhg(fraction * (barometric.as_mmhg() - WATER_VAPOUR_MMHG))
}

/// The alveolar gas equation in full:
/// PAO₂ = FIO₂·(PB − 47) − PACO₂·(FIO₂ + (1 − FIO₂)/R).
///
/// ```
/// use tidewright::alveolar::alveolar_oxygen;
/// use tidewright::prelude::*;
/// let (pb, pco2) = (PartialPressure::mmhg(760.0), PartialPressure::mmhg(36.0));
/// assert!((alveolar_oxygen(0.21, pb, pco2, 0.8).as_mmhg() - 106.6).abs() < 0.05);
/// ```
#[must_use]
pub fn alveolar_oxygen(
    inspired_fraction: f64,
    barometric: PartialPressure,
    alveolar_carbon_dioxide: PartialPressure,
    respiratory_quotient: f64,
) -> PartialPressure {
    let loss = inspired_fraction + (1.0 - inspired_fraction) / respiratory_quotient;
    inspired_oxygen(inspired_fraction, barometric) - alveolar_carbon_dioxide * loss
}

/// The alveolar gas equation in short: PAO₂ = FIO₂·(PB − 47) − PACO₂/R. It
/// neglects that more gas goes in than comes out; see [`alveolar_oxygen`].
#[must_use]
pub fn alveolar_oxygen_short(
    inspired_fraction: f64,
    barometric: PartialPressure,
    alveolar_carbon_dioxide: PartialPressure,
    respiratory_quotient: f64,
) -> PartialPressure {
    inspired_oxygen(inspired_fraction, barometric)
        - alveolar_carbon_dioxide * (1.0 / respiratory_quotient)
}

/// Dead space as a fraction of the tidal volume (Bohr; with the arterial
/// pressure for the alveolar one, Enghoff): (PACO₂ − PĒCO₂)/PACO₂.
#[must_use]
pub fn dead_space_fraction(alveolar: PartialPressure, mixed_expired: PartialPressure) -> f64 {
    (alveolar.as_mmhg() - mixed_expired.as_mmhg()) / alveolar.as_mmhg()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mmhg(value: f64) -> PartialPressure {
        PartialPressure::mmhg(value)
    }

    fn near(value: f64, expected: f64, within: f64) {
        assert!((value - expected).abs() <= within, "{value}, expected {expected}");
    }

    /// From the definitions of BTPS and STPD; the constant 0.863 stands on a
    /// teaching page, recomputed 0.86295.
    #[test]
    fn closed_form_constant_of_alveolar_ventilation() {
        near(alveolar_ventilation_constant(), 0.862_95, 5e-6);
        near(btps_per_stpd(mmhg(760.0)), 1.2103, 5e-5);
        // 0.863 is BTPS/STPD times the dry alveolar pressure, whatever the barometer.
        for barometric in [600.0, 667.0, 760.0] {
            let constant = btps_per_stpd(mmhg(barometric)) * (barometric - 47.0) / 1000.0;
            near(constant, alveolar_ventilation_constant(), 1e-14);
        }
        near(alveolar_carbon_dioxide(200.0, 4.2).as_mmhg(), 41.10, 0.01);
        near(alveolar_carbon_dioxide(200.0, 4.9).as_mmhg(), 35.22, 0.01);
    }

    /// Teaching sheet: PB 667, FIO₂ 0.21, PaCO₂ 40 × 1.2 gives PIO₂ 130.2 and
    /// PAO₂ 82.2; with PaO₂ 75, a/A 0.91 and A − a 7.2.
    #[test]
    fn published_alveolar_gas_at_altitude() {
        near(inspired_oxygen(0.21, mmhg(667.0)).as_mmhg(), 130.2, 1e-9);
        let alveolar = alveolar_oxygen_short(0.21, mmhg(667.0), mmhg(40.0), 1.0 / 1.2).as_mmhg();
        near(alveolar, 82.2, 1e-9);
        near(75.0 / alveolar, 0.91, 5e-3);
        near(alveolar - 75.0, 7.2, 1e-9);
    }

    /// Reference page: PB 760, FIO₂ 0.21, PaCO₂ 36, R 0.8 gives 107.
    #[test]
    fn published_alveolar_gas_at_sea_level() {
        near(alveolar_oxygen(0.21, mmhg(760.0), mmhg(36.0), 0.8).as_mmhg(), 107.0, 0.5);
        near(alveolar_oxygen_short(0.21, mmhg(760.0), mmhg(36.0), 0.8).as_mmhg(), 104.7, 0.05);
    }

    /// Teaching sheet: PaCO₂ 40, mixed expired 27, tidal volume 500 gives a dead
    /// space of 162.5 mL, 0.325 of it; 500 mL at 14/min is 7.0 L/min, and 150 mL
    /// of dead space leave 4.9 L/min.
    #[test]
    fn published_dead_space() {
        let fraction = dead_space_fraction(mmhg(40.0), mmhg(27.0));
        near(fraction, 0.325, 1e-12);
        near(fraction * 500.0, 162.5, 1e-9);
        near((500.0 - 150.0) * 14.0 / 1000.0, 4.9, 1e-12);
    }
}
