//! Acid-base state of blood and the carbon dioxide it carries, at 37 °C.
//!
//! - Henderson-Hasselbalch: bicarbonate = 0.0304·PCO₂·10^(pH − 6.1);
//! - Van Slyke equation in Zander's form (Lang & Zander, Clin Chem Lab Med
//!   2002;40:404-410, abstract), which holds the base excess of blood constant
//!   while carbon dioxide comes and goes;
//! - content of whole blood from plasma content (Douglas, Jones & Reed, J Appl
//!   Physiol 1988;65:473-477: plasma part in the abstract, factor of red cells
//!   from memory and as a public package has it), with the solubility and pK' of
//!   Kelman, Respir Physiol 1967;3:111-115 that it refers to.
//!
//! Human constants serve every species: acid-base curves of dog and man differ
//! by 2.5 to 10 % (Acid-base curve nomogram for dog blood, abstract).
//!
//! Pressures in mmHg, haemoglobin in g/dL, base in mmol/L, contents in mL/dL.

use crate::base::math::{exp, log10};

const SOLUBILITY_MMOL_L_MMHG: f64 = 0.0304;
const PK: f64 = 6.1;
const BICARBONATE_AT_PH_7_4: f64 = 24.26;

/// Plasma bicarbonate at a carbon dioxide pressure and a pH.
#[must_use]
pub fn bicarbonate(pco2: f64, ph: f64) -> f64 {
    SOLUBILITY_MMOL_L_MMHG * pco2 * tenfold(ph - PK)
}

/// pH at a carbon dioxide pressure and a plasma bicarbonate, both above 0.
///
/// ```
/// use tidewright::blood::acid_base::ph_of;
/// assert!((ph_of(40.0, 24.0) - 7.395).abs() < 0.001);
/// ```
#[must_use]
pub fn ph_of(pco2: f64, bicarbonate: f64) -> f64 {
    PK + log10(bicarbonate / (SOLUBILITY_MMOL_L_MMHG * pco2))
}

/// Base excess of blood at a carbon dioxide pressure, a pH, a haemoglobin and an
/// oxygen saturation (0 to 1):
///
/// BE = (1 − 0.0143·Hb)·(bicarbonate − 24.26 + (9.5 + 1.63·Hb)·(pH − 7.4))
///      − 0.2·Hb·(1 − S)
///
/// It is the fixed part of the acid-base state: letting oxygen or carbon dioxide
/// in or out does not change it.
#[must_use]
pub fn base_excess(pco2: f64, ph: f64, haemoglobin: f64, saturation: f64) -> f64 {
    (1.0 - 0.0143 * haemoglobin)
        * (bicarbonate(pco2, ph) - BICARBONATE_AT_PH_7_4 + buffer_value(haemoglobin) * (ph - 7.4))
        - 0.2 * haemoglobin * (1.0 - saturation)
}

/// pH of blood of a base excess, a haemoglobin and a saturation at a carbon
/// dioxide pressure, from the equation of [`base_excess`].
///
/// The pressure is held to at least 0.01 mmHg, below which no blood goes.
#[must_use]
pub fn ph(pco2: f64, base_excess: f64, haemoglobin: f64, saturation: f64) -> f64 {
    let target = target(base_excess, haemoglobin, saturation);
    let above = 7.4 + target.max(0.0) / buffer_value(haemoglobin) + 1.0;
    ph_below(above, pco2, base_excess, haemoglobin, saturation)
}

/// As [`ph`], for who knows a pH `above` it: that at a lower pressure, say.
pub(super) fn ph_below(
    above: f64,
    pco2: f64,
    base_excess: f64,
    haemoglobin: f64,
    saturation: f64,
) -> f64 {
    let pco2 = pco2.max(0.01);
    let buffer = buffer_value(haemoglobin);
    let target = target(base_excess, haemoglobin, saturation);
    // bicarbonate(pH) + buffer·(pH − 7.4) = target: the left side rises and is
    // convex, so Newton from above comes down to the root and never overshoots.
    let mut ph = above;
    for _ in 0..60 {
        let base = bicarbonate(pco2, ph);
        let step =
            (base + buffer * (ph - 7.4) - target) / (base * std::f64::consts::LN_10 + buffer);
        ph -= step;
        if step.abs() < 1e-13 {
            break;
        }
    }
    ph
}

/// Carbon dioxide carried by whole blood, mL/dL.
///
/// Plasma: 2.226·s·PCO₂·(1 + 10^(pH − pK')), s = 0.0307 mmol/L/mmHg and
/// pK' = 6.086 + 0.042·(7.4 − pH) + 0.00472 + 0.00139·(7.4 − pH) at 37 °C. Blood:
/// plasma times 1 − 0.0289·Hb/((3.352 − 0.456·S)·(8.142 − pH)).
///
/// Meant for pH 6.6 to 7.8; above 7.9 the factor of the red cells is held, since
/// its formula has a pole at 8.142.
#[must_use]
pub fn carbon_dioxide_content(pco2: f64, ph: f64, haemoglobin: f64, saturation: f64) -> f64 {
    let acid = 7.4 - ph;
    let pk = 6.086 + 0.042 * acid + 0.00472 + 0.00139 * acid;
    let plasma = 2.226 * 0.0307 * pco2 * (1.0 + tenfold(ph - pk));
    plasma * (1.0 - 0.0289 * haemoglobin / ((3.352 - 0.456 * saturation) * (8.142 - ph.min(7.9))))
}

/// pH of arterial plasma in the living animal at a carbon dioxide pressure, for
/// an animal that has a given standard base excess.
///
/// In vivo bicarbonate also spreads into the fluid between the cells, so that
/// blood seems to have a third of its haemoglobin; within a capillary it has no
/// time to. Use [`ph`] for blood on its way through lung or tissue, this one for
/// a sample drawn minutes after a change.
#[must_use]
pub fn ph_in_vivo(pco2: f64, standard_base_excess: f64, haemoglobin: f64) -> f64 {
    ph(pco2, standard_base_excess, haemoglobin / 3.0, 1.0)
}

/// What bicarbonate and buffer add up to, by the equation of [`base_excess`], mmol/L.
fn target(base_excess: f64, haemoglobin: f64, saturation: f64) -> f64 {
    let unbound = 0.2 * haemoglobin * (1.0 - saturation);
    (base_excess + unbound) / (1.0 - 0.0143 * haemoglobin) + BICARBONATE_AT_PH_7_4
}

/// Slope of bicarbonate against pH as carbon dioxide changes, mmol/L.
fn buffer_value(haemoglobin: f64) -> f64 {
    9.5 + 1.63 * haemoglobin
}

/// 10ˣ, for exponents of a few units.
fn tenfold(x: f64) -> f64 {
    exp(std::f64::consts::LN_10 * x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::math::pow;

    #[test]
    fn closed_form_ph_undoes_base_excess() {
        for pco2 in [5.0, 20.0, 40.0, 80.0, 200.0] {
            for excess in [-15.0, -5.0, 0.0, 10.0] {
                for saturation in [0.2, 0.7, 1.0] {
                    let ph = ph(pco2, excess, 14.0, saturation);
                    let back = base_excess(pco2, ph, 14.0, saturation);
                    assert!((back - excess).abs() < 1e-10, "{pco2} {excess}: {back}");
                }
            }
        }
    }

    /// The plain state of human blood: pH 7.40 at 40 mmHg without base excess.
    #[test]
    fn published_normal_ph() {
        assert!((ph(40.0, 0.0, 15.0, 1.0) - 7.40).abs() < 0.01);
    }

    /// The Nature of the Carbon Dioxide Titration Curve in the Normal Dog
    /// (abstract): hydrogen ion rises by 0.77 nmol/L for each mmHg, linearly,
    /// from about 30 to 140 mmHg.
    #[test]
    fn published_titration_of_living_dogs() {
        let hydrogen = |pco2| pow(10.0, 9.0 - ph_in_vivo(pco2, 0.0, 15.0));
        let slope = (hydrogen(140.0) - hydrogen(30.0)) / 110.0;
        assert!((slope / 0.77 - 1.0).abs() < 0.15, "{slope}");
        let first = (hydrogen(80.0) - hydrogen(30.0)) / 50.0;
        assert!((first / slope - 1.0).abs() < 0.1, "{first} {slope}");
    }
}
