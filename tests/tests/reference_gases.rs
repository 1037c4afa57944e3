//! Gases, tubes, oxygen curves and worked examples against recorded values.

use tidewright::alveolar::{
    alveolar_carbon_dioxide, alveolar_oxygen, alveolar_oxygen_short, alveolar_ventilation_constant,
    btps_per_stpd, dead_space_fraction, inspired_oxygen,
};
use tidewright::blood::OxygenCurve;
use tidewright::gases::{Mixture, Properties, water_vapour_pressure_pa};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};
use tidewright::tube::SmoothTube;
use tidewright_tests::reference::{Row, rows};

fn near(value: f64, expected: f64, relative: f64, row: &Row) {
    assert!((value / expected - 1.0).abs() < relative, "{value}, expected {expected}: {row:?}");
}

/// CoolProp: densities within 0.6 % (carbon dioxide is no ideal gas), viscosities
/// within 0.1 % and of air within 0.5 % (Wilke's rule, argon counted as nitrogen),
/// water vapour within 0.05 %. There is no recorded viscosity of nitrous oxide.
#[test]
fn reference_density_and_viscosity_of_gases() {
    let mixture = |name: &str| match name {
        "air" => Some(Mixture::AIR),
        "oxygen" => Some(Mixture::OXYGEN),
        "nitrogen" => Some(Mixture { oxygen: 0.0, nitrogen: 1.0, ..Mixture::OXYGEN }),
        "carbon-dioxide" => Some(Mixture { oxygen: 0.0, carbon_dioxide: 1.0, ..Mixture::OXYGEN }),
        "nitrous-oxide" => Some(Mixture { oxygen: 0.0, nitrous_oxide: 1.0, ..Mixture::OXYGEN }),
        _ => None,
    };
    for row in rows("gas-properties/data.csv") {
        let celsius = row.number("temperature_c");
        let Some(mixture) = mixture(row.text("gas")) else {
            let expected = row.number("saturation_pressure_pa");
            near(water_vapour_pressure_pa(celsius), expected, 5e-4, &row);
            continue;
        };
        let found = mixture.properties(celsius, row.number("pressure_pa"));
        near(found.density_kg_m3, row.number("density_kg_m3"), 6e-3, &row);
        if !row.text("viscosity_pa_s").is_empty() {
            let within = if row.text("gas") == "air" { 5e-3 } else { 1e-3 };
            near(found.viscosity_pa_s, row.number("viscosity_pa_s"), within, &row);
        }
    }
}

/// Poiseuille below a Reynolds number of 2000, Blasius above 4000, between them
/// where the flow turns from one to the other.
#[test]
fn reference_pressure_lost_in_smooth_tubes() {
    let gases = rows("gas-properties/data.csv");
    for row in rows("gas-properties/tubes.csv") {
        let same = |gas: &&Row| {
            gas.text("gas") == row.text("gas")
                && gas.number("temperature_c") == row.number("temperature_c")
        };
        let gas = gases.iter().find(same).map(|gas| Properties {
            density_kg_m3: gas.number("density_kg_m3"),
            viscosity_pa_s: gas.number("viscosity_pa_s"),
        });
        let Some(gas) = gas else { continue };
        let (diameter, length) = (row.number("inner_diameter_mm"), row.number("length_cm"));
        let tube = SmoothTube::new(diameter, length, gas);
        let lost = tube.pressure_drop(Flow::ml_s(row.number("flow_l_s") * 1000.0)).as_cmh2o();
        let laminar = row.number("poiseuille_pressure_cmh2o");
        let turbulent = row.number("blasius_pressure_cmh2o");
        let reynolds = row.number("reynolds_number");
        if reynolds <= 2000.0 {
            near(lost, laminar, 1e-9, &row);
        } else if reynolds >= 4000.0 {
            near(lost, turbulent, 1e-4, &row);
        } else {
            assert!(laminar < lost && lost < turbulent, "{lost}: {row:?}");
        }
    }
}

#[test]
fn reference_oxygen_curves() {
    for row in rows("blood/data.csv") {
        let curve = match row.text("curve") {
            "human-37-c" => OxygenCurve::HUMAN,
            _ => OxygenCurve::DOG_AT_39_C,
        };
        let po2 = PartialPressure::mmhg(row.number("po2_mmhg"));
        near(curve.saturation(po2, 7.4), row.number("saturation"), 1e-13, &row);
    }
}

/// Every species' P50 lies within the published ones, spread included.
#[test]
fn published_half_saturations_of_species() {
    for species in [Species::Cat, Species::Dog, Species::Horse] {
        let curve = OxygenCurve::of(&Animal::typical(species, Mass::kg(10.0))).at_temperature(37.0);
        let half = curve.half_saturation(7.4).as_mmhg();
        let name = species.name().to_lowercase();
        let published: Vec<Row> = rows("blood/p50.csv")
            .into_iter()
            .filter(|row| {
                row.text("species") == name
                    && row.text("confidence") == "read"
                    && row.number("temperature_c") == 37.0
            })
            .collect();
        let spread = |row: &Row| row.text("spread_mmhg").parse().unwrap_or(0.0);
        let p50 = |row: &Row| row.number("p50_mmhg");
        let low = published.iter().map(|row| p50(row) - spread(row)).fold(f64::MAX, f64::min);
        let high = published.iter().map(|row| p50(row) + spread(row)).fold(f64::MIN, f64::max);
        assert!(low <= half && half <= high, "{species}: {half}, published {low} to {high}");
    }
}

/// The worked examples of gas exchange, each recomputed through the library.
#[test]
fn published_worked_examples_of_gas_exchange() {
    let table = rows("gas-exchange/data.csv");
    let input = |example: &str, quantity: &str| {
        let row = table.iter().find(|row| {
            row.text("example") == example
                && row.text("role") == "input"
                && row.text("quantity") == quantity
        });
        row.map_or(f64::NAN, |row| row.number("value"))
    };
    let mmhg = |example: &str, quantity: &str| PartialPressure::mmhg(input(example, quantity));
    let mut checked = 0;
    for row in table.iter().filter(|row| row.text("role") == "output") {
        let example = row.text("example");
        let pb = mmhg(example, "barometric_pressure_mmhg");
        let fio2 = input(example, "inspired_oxygen_fraction");
        let pco2 = mmhg(example, "arterial_co2_mmhg");
        let r = input(example, "respiratory_quotient");
        let found = match (example, row.text("quantity")) {
            ("alveolar-gas-at-altitude", "inspired_oxygen_mmhg") => {
                inspired_oxygen(fio2, pb).as_mmhg()
            }
            ("alveolar-gas-at-altitude", "alveolar_oxygen_mmhg") => {
                let r = 1.0 / input(example, "co2_factor");
                alveolar_oxygen_short(fio2, pb, pco2, r).as_mmhg()
            }
            ("alveolar-gas-at-sea-level", "alveolar_oxygen_full_equation_mmhg") => {
                alveolar_oxygen(fio2, pb, pco2, r).as_mmhg()
            }
            ("alveolar-gas-at-sea-level", "alveolar_oxygen_short_form_mmhg") => {
                alveolar_oxygen_short(fio2, pb, pco2, r).as_mmhg()
            }
            ("bohr-dead-space", "dead_space_ratio") => {
                dead_space_fraction(pco2, mmhg(example, "mixed_expired_co2_mmhg"))
            }
            ("bohr-dead-space", "dead_space_ml") => {
                let ratio = dead_space_fraction(pco2, mmhg(example, "mixed_expired_co2_mmhg"));
                ratio * input(example, "tidal_volume_ml")
            }
            (_, "constant_mmhg_l_ml") => alveolar_ventilation_constant(),
            (_, "btps_over_stpd") => btps_per_stpd(PartialPressure::mmhg(760.0)),
            ("arterial-co2-at-4.2" | "arterial-co2-at-4.9", _) => alveolar_carbon_dioxide(
                input(example, "co2_production_ml_min"),
                input(example, "alveolar_ventilation_l_min"),
            )
            .as_mmhg(),
            _ => continue,
        };
        let expected = row.number("value");
        // `rounding` is half a unit of a printed last digit; computed rows have none.
        let within = row.text("rounding").parse().unwrap_or(1e-4 * expected);
        assert!((found - expected).abs() <= within, "{found}, expected {expected}: {row:?}");
        checked += 1;
    }
    assert!(checked == 15, "only {checked} examples were recognised");
}
