//! The dissociation curves of one blood as a table, for models that ask often.

use super::{Blood, OXYGEN_PER_G_HAEMOGLOBIN_ML, OXYGEN_SOLUBILITY_ML_DL_MMHG, acid_base};
use crate::quantity::PartialPressure;

/// Highest tabulated carbon dioxide pressure, mmHg; above it the curves go on
/// straight. One row for each mmHg.
const LAST_MMHG: usize = 500;

/// The dissociation curves of a blood, tabulated by carbon dioxide pressure.
///
/// Contents are in mL STPD for each mL of blood, pressures in mmHg. They agree
/// with [`Blood::gases`] within 0.002 of saturation and 0.003 mL/mL.
///
/// ```
/// use tidewright::prelude::*;
/// use tidewright::blood::{Blood, Dissociation};
/// use tidewright::species::{Animal, Species};
/// let blood = Blood::of(&Animal::typical(Species::Cat, Mass::kg(4.0)));
/// let curves = Dissociation::of(&blood);
/// let carried = curves.carbon_dioxide(40.0, 0.95);
/// assert!((curves.carbon_dioxide_pressure(carried, 0.95) - 40.0).abs() < 1e-9);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Dissociation {
    blood: Blood,
    /// Oxygen bound when full, mL/mL.
    capacity: f64,
    rows: Vec<Row>,
}

#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Row {
    /// Carbon dioxide carried by blood full of oxygen, mL/mL.
    full: f64,
    /// And by blood empty of it, in excess of the former.
    haldane: f64,
    /// What turns an oxygen pressure into the standard one, in blood full of
    /// oxygen.
    bohr: f64,
    /// And in blood empty of it, in excess of the former.
    bohr_haldane: f64,
}

impl Dissociation {
    /// Tabulates the curves of a blood.
    #[must_use]
    pub fn of(blood: &Blood) -> Self {
        let hb = blood.haemoglobin_g_dl;
        let row = |pco2: f64| {
            let ph = |s| acid_base::ph(pco2, blood.base_excess_mmol_l, hb, s);
            let content = |s| acid_base::carbon_dioxide_content(pco2, ph(s), hb, s) / 100.0;
            let bohr = |s| blood.oxygen.standard_pressure_factor(ph(s));
            Row {
                full: content(1.0),
                haldane: content(0.0) - content(1.0),
                bohr: bohr(1.0),
                bohr_haldane: bohr(0.0) - bohr(1.0),
            }
        };
        Self {
            blood: *blood,
            capacity: OXYGEN_PER_G_HAEMOGLOBIN_ML * hb / 100.0,
            rows: (0_u16..).take(LAST_MMHG + 1).map(|mmhg| row(f64::from(mmhg))).collect(),
        }
    }

    /// The blood they belong to.
    #[must_use]
    pub fn blood(&self) -> &Blood {
        &self.blood
    }

    /// Carbon dioxide carried at a pressure and an oxygen saturation, mL/mL.
    #[must_use]
    pub fn carbon_dioxide(&self, pco2: f64, saturation: f64) -> f64 {
        let row = self.row(pco2);
        row.full + row.haldane * (1.0 - saturation)
    }

    /// Carbon dioxide pressure at which a content (mL/mL) is carried.
    #[must_use]
    pub fn carbon_dioxide_pressure(&self, content: f64, saturation: f64) -> f64 {
        let carried = |row: &Row| row.full + row.haldane * (1.0 - saturation);
        let above = self.rows.partition_point(|row| carried(row) <= content);
        let upper = above.clamp(1, LAST_MMHG);
        let (low, high) = (carried(&self.rows[upper - 1]), carried(&self.rows[upper]));
        as_mmhg(upper - 1) + (content - low) / (high - low)
    }

    /// Oxygen saturation, 0 to 1, at an oxygen and a carbon dioxide pressure.
    #[must_use]
    pub fn saturation(&self, po2: f64, pco2: f64) -> f64 {
        // Deoxygenation raises pH a little, which the second look takes in; a
        // third would change less than 0.001.
        let (row, po2) = (self.row(pco2), po2.max(0.0));
        let curve = &self.blood.oxygen;
        let first = curve.saturation_at_standard(po2 * row.bohr);
        curve.saturation_at_standard(po2 * (row.bohr + row.bohr_haldane * (1.0 - first)))
    }

    /// Oxygen carried at a pressure and the saturation that belongs to it, mL/mL.
    #[must_use]
    pub fn oxygen(&self, po2: f64, saturation: f64) -> f64 {
        self.capacity * saturation + OXYGEN_SOLUBILITY_ML_DL_MMHG / 100.0 * po2
    }

    /// Saturation of blood that carries an oxygen content (mL/mL) at ordinary
    /// pressures, where nearly all of it is bound.
    #[must_use]
    pub fn saturation_of_content(&self, content: f64) -> f64 {
        (content / self.capacity).clamp(0.0, 1.0)
    }

    /// Oxygen pressure at which a content (mL/mL) is carried.
    #[must_use]
    pub fn oxygen_pressure(&self, content: f64, pco2: f64) -> f64 {
        let hb = self.blood.haemoglobin_g_dl;
        let saturation = self.saturation_of_content(content);
        let ph = acid_base::ph(pco2, self.blood.base_excess_mmol_l, hb, saturation);
        super::oxygen_pressure(&self.blood.oxygen, hb, content * 100.0, ph).as_mmhg()
    }

    /// Everything about blood that carries given contents (mL/mL).
    #[must_use]
    pub fn gases(&self, carbon_dioxide: f64, oxygen: f64) -> super::BloodGases {
        // Nearly all oxygen is bound, so saturation follows from content; the
        // dissolved part is corrected once the pressure is known.
        let mut saturation = self.saturation_of_content(oxygen);
        let mut pco2 = self.carbon_dioxide_pressure(carbon_dioxide, saturation).max(0.0);
        let po2 = self.oxygen_pressure(oxygen, pco2);
        saturation = self.saturation(po2, pco2);
        pco2 = self.carbon_dioxide_pressure(carbon_dioxide, saturation).max(0.0);
        self.blood.gases(PartialPressure::mmhg(pco2), PartialPressure::mmhg(po2))
    }

    /// The row at a carbon dioxide pressure, straight between the tabulated ones.
    fn row(&self, pco2: f64) -> Row {
        let x = pco2.max(0.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 or more")]
        let lower = (x as usize).min(LAST_MMHG - 1);
        let part = x - as_mmhg(lower);
        let (a, b) = (&self.rows[lower], &self.rows[lower + 1]);
        Row {
            full: a.full + part * (b.full - a.full),
            haldane: a.haldane + part * (b.haldane - a.haldane),
            bohr: a.bohr + part * (b.bohr - a.bohr),
            bohr_haldane: a.bohr_haldane + part * (b.bohr_haldane - a.bohr_haldane),
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "at most 500")]
fn as_mmhg(row: usize) -> f64 {
    row as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Mass;
    use crate::species::{Animal, Species};

    #[test]
    fn twin_table_and_equations_agree() {
        for species in Species::ALL {
            let blood = Blood::of(&Animal::typical(species, Mass::kg(3.0)));
            let curves = Dissociation::of(&blood);
            for pco2 in [8.3, 20.0, 40.5, 61.2, 99.0, 200.7] {
                for po2 in [15.0, 27.0, 40.0, 70.0, 110.0, 600.0] {
                    let exact =
                        blood.gases(PartialPressure::mmhg(pco2), PartialPressure::mmhg(po2));
                    let saturation = curves.saturation(po2, pco2);
                    assert!((saturation - exact.saturation).abs() < 2e-3, "{species} {pco2} {po2}");
                    let carbon_dioxide = curves.carbon_dioxide(pco2, exact.saturation);
                    assert!(
                        (carbon_dioxide - exact.carbon_dioxide_content / 100.0).abs() < 3e-3,
                        "{species} {pco2} {po2}: {carbon_dioxide} {exact:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn carbon_dioxide_content_only_rises_with_pressure() {
        for species in Species::ALL {
            let curves = Dissociation::of(&Blood::of(&Animal::typical(species, Mass::kg(3.0))));
            for saturation in [0.0, 0.5, 1.0] {
                let carried = |mmhg: u16| curves.carbon_dioxide(f64::from(mmhg), saturation);
                assert!((0..600).all(|mmhg| carried(mmhg) < carried(mmhg + 1)), "{species}");
            }
        }
    }

    #[test]
    fn pressures_undo_contents() {
        let curves = Dissociation::of(&Blood::of(&Animal::typical(Species::Dog, Mass::kg(20.0))));
        for (pco2, po2) in [(30.0, 100.0), (46.0, 40.0), (90.0, 500.0), (45.0, 25.0)] {
            let saturation = curves.saturation(po2, pco2);
            let gases = curves
                .gases(curves.carbon_dioxide(pco2, saturation), curves.oxygen(po2, saturation));
            assert!((gases.carbon_dioxide.as_mmhg() - pco2).abs() < 0.05, "{gases:?}");
            assert!((gases.oxygen.as_mmhg() / po2 - 1.0).abs() < 2e-3, "{gases:?}");
        }
    }
}
