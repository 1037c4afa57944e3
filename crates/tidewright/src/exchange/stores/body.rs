//! The body beyond the alveoli: blood that goes round, tissues that make carbon
//! dioxide and use oxygen, and what all of them store.
//!
//! Four stores in a ring: arterial blood → tissues (two, in parallel) → venous
//! blood → lung. Blood is a pair of contents; a tissue is a carbon dioxide
//! pressure that its outflowing blood shares. Oxygen is stored in blood and in
//! the lung; tissues store so little of it that they are left out.
//!
//! - arterial blood: Vₐ·dCₐ/dt = Q·(C_lung − Cₐ)
//! - tissue j: Kⱼ·dPⱼ/dt = V̇CO₂ⱼ − Qⱼ·(C(Pⱼ) − Cₐ)
//! - venous blood: Vᵥ·dCᵥ/dt = Σ Qⱼ·C(Pⱼ) − Q·Cᵥ, for oxygen Q·(Cₐ − Cᵥ) − V̇O₂
//!
//! All oxygen that is wanted is used while arterial blood brings [`CRITICAL`] times as
//! much. Below, use follows delivery D = Q·Cₐ: V̇O₂ = W·(x − x²/4) with x = D/W, W what
//! is wanted; carbon dioxide production falls with it.

use crate::animal::blood::{BloodGases, Dissociation, Tensions};

/// Critical delivery of oxygen over what is wanted: half of it is then extracted. In a dog
/// of 3.5 mL/kg/min that is 7 mL/kg/min; measured were 6.3 ± 2.5 (bled: Intensive Care Med
/// 2000;26:1619), 8.0 (bypass: J Surg Res 1989;47:242) and 10 ± 1 (halothane, caval
/// occlusion), abstracts. The parabola below it is assumed: all is extracted of the last
/// that comes.
pub const CRITICAL: f64 = 2.0;

/// Oxygen used where some is wanted and some delivered, in one unit.
///
/// ```
/// use tidewright::exchange::oxygen_used;
/// assert_eq!(oxygen_used(70.0, 320.0), 70.0);
/// assert!((oxygen_used(70.0, 70.0) - 52.5).abs() < 1e-12);
/// assert_eq!(oxygen_used(70.0, 0.0), 0.0);
/// ```
#[must_use]
pub fn oxygen_used(wanted: f64, delivered: f64) -> f64 {
    if delivered >= CRITICAL * wanted {
        return wanted;
    }
    let share = delivered.max(0.0) / (CRITICAL * wanted);
    wanted * share * (2.0 - share)
}

/// Carbon dioxide and oxygen carried by blood, mL STPD for each mL.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Content {
    /// Carbon dioxide.
    pub carbon_dioxide: f64,
    /// Oxygen.
    pub oxygen: f64,
}

impl Content {
    /// A share of it.
    pub(crate) fn part(self, share: f64) -> Self {
        Self { carbon_dioxide: self.carbon_dioxide * share, oxygen: self.oxygen * share }
    }
}

/// A kind of tissue.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Tissue {
    /// Carbon dioxide stored for each mmHg, blood not counted, mL STPD/mmHg.
    pub store_ml_mmhg: f64,
    /// Share of the cardiac output that goes through it, 0 to 1; also its share
    /// of metabolism, so that at rest all tissues have one venous pressure.
    pub share: f64,
}

/// What does not change in a body while it breathes.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Body {
    /// What its blood carries.
    pub curves: Dissociation,
    /// Arterial blood, mL.
    pub arterial_ml: f64,
    /// Venous blood, mL.
    pub venous_ml: f64,
    /// Well perfused tissue and the rest; their shares add up to 1.
    pub tissues: [Tissue; 2],
}

/// What the circulation and the metabolism are doing.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Demand {
    /// Cardiac output, mL/s; 0 in an arrest.
    pub cardiac_output_ml_s: f64,
    /// Oxygen that the tissues want, mL STPD/s.
    pub oxygen_ml_s: f64,
    /// Carbon dioxide that they make with it, mL STPD/s.
    pub carbon_dioxide_ml_s: f64,
}

/// What changes in a body.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct BodyState {
    /// Arterial blood.
    pub arterial: Content,
    /// Mixed venous blood.
    pub venous: Content,
    /// Carbon dioxide pressure of each tissue, mmHg.
    pub tissue_mmhg: [f64; 2],
}

/// Blood before and after the lung, in one step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passage {
    /// Venous blood that came to the lung.
    pub came: Content,
    /// Blood that the lung returned, shunt included.
    pub returned: Content,
}

/// Gas that the tissues exchanged in a step, mL STPD.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Metabolised {
    /// Oxygen used.
    pub oxygen: f64,
    /// Carbon dioxide made.
    pub carbon_dioxide: f64,
}

impl Body {
    /// The body in a steady state that has given arterial pressures, mmHg.
    #[must_use]
    pub fn steady(&self, arterial_pco2: f64, arterial_po2: f64, demand: &Demand) -> BodyState {
        let curves = &self.curves;
        let saturation = curves.saturation(arterial_po2, arterial_pco2);
        let arterial = Content {
            carbon_dioxide: curves.carbon_dioxide(arterial_pco2, saturation),
            oxygen: curves.oxygen(arterial_po2, saturation),
        };
        let flow = demand.cardiac_output_ml_s;
        if flow <= 0.0 {
            return BodyState { arterial, venous: arterial, tissue_mmhg: [arterial_pco2; 2] };
        }
        let used = oxygen_used(demand.oxygen_ml_s, flow * arterial.oxygen);
        let made = demand.carbon_dioxide_ml_s * part(used, demand.oxygen_ml_s);
        let venous = Content {
            carbon_dioxide: arterial.carbon_dioxide + made / flow,
            oxygen: arterial.oxygen - used / flow,
        };
        let saturation = curves.saturation_of_content(venous.oxygen);
        let tissue = curves.carbon_dioxide_pressure(venous.carbon_dioxide, saturation);
        BodyState { arterial, venous, tissue_mmhg: [tissue; 2] }
    }

    /// Goes on by a step (s) in which the lung got blood of one content and
    /// returned it with another, by the midpoint rule.
    pub fn advance(
        &self,
        state: &mut BodyState,
        lung: &Passage,
        demand: &Demand,
        step_s: f64,
    ) -> Metabolised {
        let (first, _) = self.rates(state, lung, demand);
        let middle = after(state, &first, step_s / 2.0);
        let (rates, metabolism) = self.rates(&middle, lung, demand);
        *state = after(state, &rates, step_s);
        Metabolised {
            oxygen: metabolism.oxygen * step_s,
            carbon_dioxide: metabolism.carbon_dioxide * step_s,
        }
    }

    /// Carbon dioxide and oxygen held by blood and tissues, mL STPD.
    #[must_use]
    pub fn stored(&self, state: &BodyState) -> Content {
        let blood = |content: fn(&Content) -> f64| {
            self.arterial_ml * content(&state.arterial) + self.venous_ml * content(&state.venous)
        };
        let tissues: f64 = self
            .tissues
            .iter()
            .zip(state.tissue_mmhg)
            .map(|(tissue, mmhg)| tissue.store_ml_mmhg * mmhg)
            .sum();
        Content {
            carbon_dioxide: blood(|c| c.carbon_dioxide) + tissues,
            oxygen: blood(|c| c.oxygen),
        }
    }

    /// Arterial blood gases.
    #[must_use]
    pub fn arterial_gases(&self, state: &BodyState) -> BloodGases {
        self.curves.gases(state.arterial.carbon_dioxide, state.arterial.oxygen)
    }

    /// Arterial pressures and saturation, which are found sooner than all blood gases.
    #[must_use]
    pub fn arterial_tensions(&self, state: &BodyState) -> Tensions {
        self.curves.tensions(state.arterial.carbon_dioxide, state.arterial.oxygen)
    }

    /// Mixed venous blood gases.
    #[must_use]
    pub fn venous_gases(&self, state: &BodyState) -> BloodGases {
        self.curves.gases(state.venous.carbon_dioxide, state.venous.oxygen)
    }

    /// Time derivatives of the state, and of the gas exchanged.
    fn rates(
        &self,
        state: &BodyState,
        lung: &Passage,
        demand: &Demand,
    ) -> (BodyState, Metabolised) {
        let flow = demand.cardiac_output_ml_s;
        let (arterial, venous) = (state.arterial, state.venous);
        let used = oxygen_used(demand.oxygen_ml_s, flow * arterial.oxygen);
        let made = demand.carbon_dioxide_ml_s * part(used, demand.oxygen_ml_s);

        let saturation = self.curves.saturation_of_content(venous.oxygen);
        let mut from_tissues = 0.0;
        let mut tissue_mmhg = [0.0; 2];
        for (j, tissue) in self.tissues.iter().enumerate() {
            let leaving = self.curves.carbon_dioxide(state.tissue_mmhg[j], saturation);
            let carried = flow * tissue.share * (leaving - arterial.carbon_dioxide);
            tissue_mmhg[j] = (made * tissue.share - carried) / tissue.store_ml_mmhg;
            from_tissues += flow * tissue.share * leaving;
        }
        let rates = BodyState {
            arterial: Content {
                carbon_dioxide: flow * (lung.returned.carbon_dioxide - arterial.carbon_dioxide)
                    / self.arterial_ml,
                oxygen: flow * (lung.returned.oxygen - arterial.oxygen) / self.arterial_ml,
            },
            venous: Content {
                carbon_dioxide: (from_tissues - flow * lung.came.carbon_dioxide) / self.venous_ml,
                oxygen: (flow * (arterial.oxygen - lung.came.oxygen) - used) / self.venous_ml,
            },
            tissue_mmhg,
        };
        (rates, Metabolised { oxygen: used, carbon_dioxide: made })
    }
}

/// The part of what is wanted that is had; all of it when nothing is wanted.
fn part(had: f64, wanted: f64) -> f64 {
    if wanted > 0.0 { had / wanted } else { 1.0 }
}

fn after(state: &BodyState, rates: &BodyState, step_s: f64) -> BodyState {
    let blood = |a: Content, rate: Content| Content {
        carbon_dioxide: a.carbon_dioxide + rate.carbon_dioxide * step_s,
        oxygen: a.oxygen + rate.oxygen * step_s,
    };
    BodyState {
        arterial: blood(state.arterial, rates.arterial),
        venous: blood(state.venous, rates.venous),
        tissue_mmhg: [0, 1].map(|j| state.tissue_mmhg[j] + rates.tissue_mmhg[j] * step_s),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Dogs, halothane (abstract): V̇O₂ = 3.9·(1 − e^(−D/3.6)) mL/kg/min, r 0.98.
    #[test]
    fn published_use_over_delivery() {
        for delivered in [2.0, 4.0, 6.0, 10.0, 15.0, 25.0] {
            let measured = 3.9 * (1.0 - crate::base::math::exp(-delivered / 3.6));
            let used = oxygen_used(3.9, delivered);
            assert!((used - measured).abs() < 0.6, "{used} and {measured} of {delivered}");
            assert!(used <= delivered);
        }
    }
}
