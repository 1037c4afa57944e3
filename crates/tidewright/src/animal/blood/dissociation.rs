//! The dissociation curves of one blood as a table, for models that ask often.

use super::{
    Blood, OXYGEN_PER_G_HAEMOGLOBIN_ML, OXYGEN_SOLUBILITY_ML_DL_MMHG, OxygenCurve, acid_base,
};
use crate::base::quantity::PartialPressure;

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
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Dissociation {
    blood: Blood,
    /// Oxygen bound when full, mL/mL.
    capacity: f64,
    rows: Vec<Row>,
}

/// The part of [`super::BloodGases`] that monitors follow.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Tensions {
    /// Carbon dioxide pressure.
    pub carbon_dioxide: PartialPressure,
    /// Oxygen pressure.
    pub oxygen: PartialPressure,
    /// Oxygen saturation of haemoglobin, 0 to 1.
    pub saturation: f64,
}

#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
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
    /// pH of blood empty of oxygen: no blood at this pressure or a higher one has more.
    highest_ph: f64,
}

impl Row {
    /// What turns an oxygen pressure into the standard one at a saturation.
    fn factor(&self, saturation: f64) -> f64 {
        self.bohr + self.bohr_haldane * (1.0 - saturation)
    }

    fn saturation(&self, curve: &OxygenCurve, po2: f64) -> f64 {
        // Deoxygenation raises pH a little, which the second look takes in; a
        // third would change less than 0.001.
        let first = curve.saturation_at_standard(po2 * self.bohr);
        self.saturation_near(curve, po2, first)
    }

    fn saturation_near(&self, curve: &OxygenCurve, po2: f64, near: f64) -> f64 {
        curve.saturation_at_standard(po2 * self.factor(near))
    }
}

impl Dissociation {
    /// Tabulates the curves of a blood.
    #[must_use]
    pub fn of(blood: &Blood) -> Self {
        let hb = blood.haemoglobin_g_dl;
        let base = blood.base_excess_mmol_l;
        // pH falls from row to row, so each starts where the one before ended.
        let mut ph = [1.0, 0.0].map(|s| acid_base::ph(0.0, base, hb, s));
        let mut row = |pco2: f64| {
            let mut at = |i: usize, s| {
                ph[i] = acid_base::ph_below(ph[i], pco2, base, hb, s);
                let content = acid_base::carbon_dioxide_content(pco2, ph[i], hb, s) / 100.0;
                (content, blood.oxygen.standard_pressure_factor(ph[i]))
            };
            let ((full, bohr), (empty, bohr_empty)) = (at(0, 1.0), at(1, 0.0));
            Row {
                full,
                haldane: empty - full,
                bohr,
                bohr_haldane: bohr_empty - bohr,
                highest_ph: ph[1],
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
        self.row(pco2).saturation(&self.blood.oxygen, po2.max(0.0))
    }

    /// Carbon dioxide and oxygen carried at an oxygen and a carbon dioxide pressure,
    /// mL/mL.
    #[must_use]
    pub fn carried(&self, po2: f64, pco2: f64) -> (f64, f64) {
        let (carbon_dioxide, oxygen, _) = self.carried_near(po2, pco2, None);
        (carbon_dioxide, oxygen)
    }

    /// As [`Dissociation::carried`], sooner found near a saturation that is known; and the
    /// saturation.
    pub(crate) fn carried_near(&self, po2: f64, pco2: f64, near: Option<f64>) -> (f64, f64, f64) {
        let (row, curve, bound_by) = (self.row(pco2), &self.blood.oxygen, po2.max(0.0));
        let saturation = match near {
            Some(near) => row.saturation_near(curve, bound_by, near),
            None => row.saturation(curve, bound_by),
        };
        let carbon_dioxide = row.full + row.haldane * (1.0 - saturation);
        (carbon_dioxide, self.oxygen(po2, saturation), saturation)
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

    /// Oxygen pressure at which a content (mL/mL) is carried at a carbon dioxide
    /// pressure; zero for no content.
    #[must_use]
    pub fn oxygen_pressure(&self, content: f64, pco2: f64) -> f64 {
        if content <= 0.0 {
            return 0.0;
        }
        let (row, curve) = (self.row(pco2), &self.blood.oxygen);
        let solubility = OXYGEN_SOLUBILITY_ML_DL_MMHG / 100.0;
        // What is dissolved beside full haemoglobin is too little pressure, all of it
        // dissolved too much.
        let (mut low, mut high) =
            (((content - self.capacity) / solubility).max(0.0), content / solubility);
        let bound = self.saturation_of_content(content).min(0.999);
        let dissolved = (content - 0.999 * self.capacity) / solubility;
        let mut po2 = (curve.standard_pressure(bound) / row.bohr).max(dissolved);
        for _ in 0..60 {
            if !(low < po2 && po2 < high) {
                po2 = low + (high - low) / 2.0;
            }
            let saturation = row.saturation(curve, po2);
            let excess = self.oxygen(po2, saturation) - content;
            if excess > 0.0 {
                high = po2;
            } else {
                low = po2;
            }
            // Newton, with the slope of a pressure factor that stays.
            let factor = row.factor(saturation);
            let slope = self.capacity * curve.slope_at_standard(po2 * factor) * factor;
            let step = excess / (slope + solubility);
            po2 -= step;
            if step.abs() <= 1e-13 * po2 {
                break;
            }
        }
        po2.max(low).min(high)
    }

    /// The pressures of blood that carries given contents (mL/mL), and its saturation.
    #[must_use]
    pub fn tensions(&self, carbon_dioxide: f64, oxygen: f64) -> Tensions {
        // Nearly all oxygen is bound, so saturation follows from content; the
        // dissolved part is corrected once the pressure is known.
        let mut saturation = self.saturation_of_content(oxygen);
        let mut pco2 = self.carbon_dioxide_pressure(carbon_dioxide, saturation).max(0.0);
        let po2 = self.oxygen_pressure(oxygen, pco2);
        saturation = self.saturation(po2, pco2);
        pco2 = self.carbon_dioxide_pressure(carbon_dioxide, saturation).max(0.0);
        Tensions {
            carbon_dioxide: PartialPressure::mmhg(pco2),
            oxygen: PartialPressure::mmhg(po2),
            saturation,
        }
    }

    /// Everything about blood that carries given contents (mL/mL).
    #[must_use]
    pub fn gases(&self, carbon_dioxide: f64, oxygen: f64) -> super::BloodGases {
        let tensions = self.tensions(carbon_dioxide, oxygen);
        let (pco2, saturation) = (tensions.carbon_dioxide.as_mmhg(), tensions.saturation);
        let Blood { haemoglobin_g_dl, base_excess_mmol_l, .. } = self.blood;
        let above = self.row(pco2).highest_ph;
        let ph = acid_base::ph_below(above, pco2, base_excess_mmol_l, haemoglobin_g_dl, saturation);
        super::BloodGases {
            carbon_dioxide: tensions.carbon_dioxide,
            oxygen: tensions.oxygen,
            ph,
            bicarbonate_mmol_l: acid_base::bicarbonate(pco2, ph),
            saturation,
            oxygen_content: 100.0 * oxygen,
            carbon_dioxide_content: 100.0 * carbon_dioxide,
        }
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
            highest_ph: a.highest_ph,
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
    use crate::animal::species::{Animal, Species};
    use crate::base::quantity::Mass;

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

    #[test]
    fn twin_gases_of_contents_and_of_pressures() {
        for species in Species::ALL {
            let blood = Blood::of(&Animal::typical(species, Mass::kg(3.0)));
            let curves = Dissociation::of(&blood);
            for pco2 in [15.0, 40.0, 95.0] {
                for po2 in [0.5, 8.0, 30.0, 55.0, 95.0, 250.0, 650.0] {
                    let whole =
                        blood.gases(PartialPressure::mmhg(pco2), PartialPressure::mmhg(po2));
                    let found = curves
                        .gases(whole.carbon_dioxide_content / 100.0, whole.oxygen_content / 100.0);
                    let said = format!("{species} {pco2} {po2}: {found:?}");
                    assert!((found.saturation - whole.saturation).abs() < 3e-3, "{said}");
                    assert!((found.carbon_dioxide.as_mmhg() - pco2).abs() < 0.3, "{said}");
                    assert!((found.ph - whole.ph).abs() < 3e-3, "{said}");
                    let carried = curves.oxygen(found.oxygen.as_mmhg(), found.saturation);
                    assert!(
                        (carried / (whole.oxygen_content / 100.0) - 1.0).abs() < 2e-3,
                        "{said}"
                    );
                }
            }
        }
        let dog = Dissociation::of(&Blood::of(&Animal::typical(Species::Dog, Mass::kg(20.0))));
        assert_eq!(dog.oxygen_pressure(0.0, 40.0), 0.0);
        for content in [1e-9, 1e-4, 0.05, 0.19, 0.2, 0.25, 1.0] {
            let po2 = dog.oxygen_pressure(content, 40.0);
            let back = dog.oxygen(po2, dog.saturation(po2, 40.0));
            assert!((back / content - 1.0).abs() < 1e-12, "{content}: {po2} {back}");
        }
    }
}
