//! Alveolar gas: spaces that share the ventilation of a lung compartment, each
//! with its share of the blood.

use super::body::Content;
use super::parcel::{Fractions, Parcel};
use crate::animal::blood::Dissociation;

/// The most alveolar spaces: a perfused and an unperfused one for each
/// compartment.
pub const MAX_SPACES: usize = 12;

/// Change of gas in a volume of blood with the fraction of that gas in the alveoli, at
/// most: 0.006 mL/mL for each mmHg of oxygen where the curve of full blood is steepest.
const STEEPEST: f64 = 5.0;
/// Least share of carbon dioxide that comes to tissue is taken to stay in the gas.
const LEAST_GAS: f64 = 0.1;
/// A few times the last bit of a number, as a share of it.
const LAST_BITS: f64 = 8.0 * f64::EPSILON;
/// Most parts of a step.
const MOST_PARTS: f64 = 32.0;

/// A part of the alveolar gas that is mixed throughout.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Space {
    /// The lung compartment it belongs to.
    pub compartment: usize,
    /// Its share of that compartment's volume and ventilation, 0 to 1.
    pub share: f64,
    /// Its share of the blood that is not shunted, 0 to 1; 0 is alveolar dead
    /// space.
    pub perfusion: f64,
    /// Volume of gas that would hold as much carbon dioxide as its tissue does at
    /// the same pressure, mL.
    pub tissue_ml: f64,
    /// Gas that stays when the rest is absorbed behind a blocked airway, mL;
    /// above 0.
    pub residue_ml: f64,
}

/// The gas of a space, mL BTPS.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SpaceState {
    /// Carbon dioxide of gas and tissue together.
    pub carbon_dioxide: f64,
    /// Oxygen.
    pub oxygen: f64,
    /// Gas that is not exchanged.
    pub other: f64,
}

/// Pressures and blood flow that an exchange goes by.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bloodstream<'a> {
    pub curves: &'a Dissociation,
    /// Venous blood that comes to the lung.
    pub venous: Content,
    /// Blood that passes alveoli, shunt not counted, mL/s.
    pub flow_ml_s: f64,
    /// Pressure of dry alveolar gas, mmHg.
    pub dry_mmhg: f64,
    /// mL BTPS for each mL STPD.
    pub btps: f64,
}

/// Gas that passed from blood to alveoli, mL STPD; oxygen counts negative.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Crossing {
    pub carbon_dioxide: f64,
    pub oxygen: f64,
    /// What of it would be more or less by the rates at the start, as a share of the gas.
    pub bent: f64,
}

impl SpaceState {
    /// A space with a volume (mL) of a mixture, its tissue in equilibrium.
    pub(crate) fn filled(space: &Space, mixture: Fractions, volume: f64) -> Self {
        let gas = Parcel::of(mixture, volume);
        Self {
            carbon_dioxide: mixture.carbon_dioxide * (volume + space.tissue_ml),
            oxygen: gas.oxygen,
            other: gas.volume - gas.carbon_dioxide - gas.oxygen,
        }
    }

    /// Its gas, mL. Gas and tissue share carbon dioxide as their volumes:
    /// V = other + oxygen + carbon dioxide·V/(V + tissue), the positive root.
    pub(crate) fn volume(&self, space: &Space) -> f64 {
        let rest = self.other + self.oxygen;
        let half = (rest + self.carbon_dioxide - space.tissue_ml) / 2.0;
        half + (half * half + rest * space.tissue_ml).max(0.0).sqrt()
    }

    /// Gas that it must take in to hold a volume (mL), negative where it gives out: with
    /// V = r + c·V/(V + tissue) as in [`SpaceState::volume`], what comes in of a mixture
    /// with a share f of carbon dioxide adds (1 − f) of itself to r and f to c. Tissue
    /// that gives to thinned gas or takes from richer makes it less or more.
    pub(crate) fn wants(&self, space: &Space, volume: f64, arriving: Fractions) -> f64 {
        let held = volume + space.tissue_ml;
        let missing = volume - self.other - self.oxygen - self.carbon_dioxide * volume / held;
        // What rounding leaves would go in and out of a lung at rest for ever.
        if missing.abs() <= LAST_BITS * volume {
            return 0.0;
        }
        if space.tissue_ml == 0.0 {
            return missing;
        }
        let mixture = if missing > 0.0 { arriving } else { self.fractions(space) };
        let share = mixture.carbon_dioxide;
        missing / (1.0 - share.min(1.0) * space.tissue_ml / held).max(LEAST_GAS)
    }

    /// What its gas is a mixture of.
    ///
    /// A space that has closed keeps its residue, so that pressures fall to zero
    /// as the last gas is absorbed.
    pub(crate) fn fractions(&self, space: &Space) -> Fractions {
        let volume = self.volume(space).max(space.residue_ml);
        Fractions {
            carbon_dioxide: self.carbon_dioxide / (volume + space.tissue_ml),
            oxygen: self.oxygen / volume,
        }
    }

    /// Takes in gas.
    pub(crate) fn add(&mut self, gas: Parcel) {
        self.carbon_dioxide += gas.carbon_dioxide;
        self.oxygen += gas.oxygen;
        self.other += gas.volume - gas.carbon_dioxide - gas.oxygen;
    }

    /// Gives out a volume (mL) of its gas.
    pub(crate) fn take(&mut self, space: &Space, volume: f64) -> Parcel {
        let gas = Parcel::of(self.fractions(space), volume);
        self.carbon_dioxide -= gas.carbon_dioxide;
        self.oxygen -= gas.oxygen;
        self.other -= gas.volume - gas.carbon_dioxide - gas.oxygen;
        gas
    }

    /// What it holds more than another.
    pub(crate) fn beyond(&self, other: &Self) -> Self {
        Self {
            carbon_dioxide: self.carbon_dioxide - other.carbon_dioxide,
            oxygen: self.oxygen - other.oxygen,
            other: self.other - other.other,
        }
    }

    /// So many times it.
    pub(crate) fn times(&self, times: f64) -> Self {
        Self {
            carbon_dioxide: self.carbon_dioxide * times,
            oxygen: self.oxygen * times,
            other: self.other * times,
        }
    }

    /// Gets what is told in the same way.
    pub(crate) fn get(&mut self, more: &Self) {
        self.carbon_dioxide += more.carbon_dioxide;
        self.oxygen += more.oxygen;
        self.other += more.other;
    }

    /// Exchanges gas with its blood for a step (s), by the midpoint rule: at once, or in
    /// parts where a space that is all but closed holds too little gas for that.
    ///
    /// Blood leaves at the pressures of the space. Returns what passed.
    pub(crate) fn exchange(
        &mut self,
        space: &Space,
        blood: &Bloodstream<'_>,
        step_s: f64,
    ) -> Crossing {
        let flow = blood.flow_ml_s * space.perfusion;
        if flow <= 0.0 {
            return Crossing::default();
        }
        let mut gas_ml = self.volume(space).max(space.residue_ml);
        let (all_ml, most_ml) = (flow * step_s, gas_ml / STEEPEST);
        let parts = if all_ml > most_ml { (all_ml / most_ml).ceil().min(MOST_PARTS) } else { 1.0 };
        let blood_ml = all_ml / parts;
        let (mut sum, mut part, mut near) = (Crossing::default(), 1.0, None);
        loop {
            let first = self.crossing(space, gas_ml, blood, blood_ml / 2.0, &mut near);
            let middle = self.after(&first, blood.btps);
            let middle_ml = middle.volume(space).max(space.residue_ml);
            let crossing = middle.crossing(space, middle_ml, blood, blood_ml, &mut near);
            let bent = (2.0 * first.carbon_dioxide - crossing.carbon_dioxide)
                .abs()
                .max((2.0 * first.oxygen - crossing.oxygen).abs());
            sum.bent += bent * blood.btps / gas_ml;
            *self = self.after(&crossing, blood.btps);
            sum.carbon_dioxide += crossing.carbon_dioxide;
            sum.oxygen += crossing.oxygen;
            if part >= parts {
                return sum;
            }
            part += 1.0;
            gas_ml = self.volume(space).max(space.residue_ml);
        }
    }

    /// What passes while a volume of blood (mL) comes to this gas, of which there is `gas_ml`;
    /// `near` is the saturation that was found there last.
    fn crossing(
        &self,
        space: &Space,
        gas_ml: f64,
        blood: &Bloodstream<'_>,
        blood_ml: f64,
        near: &mut Option<f64>,
    ) -> Crossing {
        let pco2 = self.carbon_dioxide / (gas_ml + space.tissue_ml) * blood.dry_mmhg;
        let po2 = self.oxygen / gas_ml * blood.dry_mmhg;
        let (carbon_dioxide, oxygen, saturation) = blood.curves.carried_near(po2, pco2, *near);
        *near = Some(saturation);
        Crossing {
            carbon_dioxide: blood_ml * (blood.venous.carbon_dioxide - carbon_dioxide),
            oxygen: blood_ml * (blood.venous.oxygen - oxygen),
            bent: 0.0,
        }
    }

    fn after(&self, crossing: &Crossing, btps: f64) -> Self {
        Self {
            carbon_dioxide: self.carbon_dioxide + crossing.carbon_dioxide * btps,
            oxygen: self.oxygen + crossing.oxygen * btps,
            other: self.other,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::animal::blood::Blood;
    use crate::animal::species::{Animal, Parameter, Species};
    use crate::base::quantity::Mass;

    const SPACE: Space =
        Space { compartment: 0, share: 1.0, perfusion: 1.0, tissue_ml: 40.0, residue_ml: 2.0 };

    #[test]
    fn closed_form_gas_and_tissue_hold_one_pressure() {
        let mixture = Fractions { carbon_dioxide: 0.056, oxygen: 0.14 };
        let state = SpaceState::filled(&SPACE, mixture, 90.0);
        assert!((state.volume(&SPACE) - 90.0).abs() < 1e-12);
        let back = state.fractions(&SPACE);
        assert!((back.carbon_dioxide - mixture.carbon_dioxide).abs() < 1e-15);
        assert!((back.oxygen - mixture.oxygen).abs() < 1e-15);
    }

    #[test]
    fn twin_a_space_that_is_all_but_closed_settles_at_one_pressure_in_any_step() {
        let cat = Animal::typical(Species::Cat, Mass::kg(0.3));
        let curves = Dissociation::of(&Blood::of(&cat));
        let space = Space { tissue_ml: 1.0, residue_ml: 0.1, ..SPACE };
        let (carbon_dioxide, oxygen) = curves.carried(40.0, 46.0);
        let venous = Content { carbon_dioxide, oxygen };
        let flow_ml_s = cat.value(Parameter::CardiacOutput) / 60.0;
        let blood = Bloodstream { curves: &curves, venous, flow_ml_s, dry_mmhg: 713.0, btps: 1.21 };
        let settled = |step_s: f64| {
            let mut state = SpaceState { carbon_dioxide: 0.06, oxygen: 0.05, other: 0.0 };
            for _ in 0..(20.0 / step_s) as u32 {
                state.exchange(&space, &blood, step_s);
            }
            state.fractions(&space).oxygen * 713.0
        };
        assert!((settled(0.0005) / 40.0 - 1.0).abs() < 0.01, "{}", settled(0.0005));
        for step_s in [0.02, 0.05, 0.1] {
            assert!((settled(step_s) / settled(0.0005) - 1.0).abs() < 0.01, "{step_s}");
        }
    }

    /// What comes in or goes out leaves the volume that was wanted: not what it was and
    /// that much more, as the tissue gives or takes.
    #[test]
    fn closed_form_a_space_takes_in_what_fills_it() {
        let mixture = Fractions { carbon_dioxide: 0.056, oxygen: 0.14 };
        for arriving in [Fractions::OXYGEN, Fractions::AIR, mixture] {
            for volume in [60.0, 89.0, 91.0, 150.0] {
                let mut state = SpaceState::filled(&SPACE, mixture, 90.0);
                let wants = state.wants(&SPACE, volume, arriving);
                if wants > 0.0 {
                    state.add(Parcel::of(arriving, wants));
                } else {
                    state.take(&SPACE, -wants);
                }
                assert!((state.volume(&SPACE) / volume - 1.0).abs() < 1e-12, "{volume}");
            }
        }
    }

    #[test]
    fn taking_and_adding_gas_conserves_it() {
        let mixture = Fractions { carbon_dioxide: 0.056, oxygen: 0.14 };
        let before = SpaceState::filled(&SPACE, mixture, 90.0);
        let mut state = before;
        let gas = state.take(&SPACE, 30.0);
        state.add(gas);
        assert!((state.carbon_dioxide - before.carbon_dioxide).abs() < 1e-14);
        assert!((state.oxygen - before.oxygen).abs() < 1e-14);
        assert!((state.other - before.other).abs() < 1e-13);
    }
}
