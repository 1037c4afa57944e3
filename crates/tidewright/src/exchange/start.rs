//! The steady state that a run begins from.

use super::breathing::Way;
use super::owed::Strides;
use super::stores::airway::Airway;
use super::stores::alveoli::{MAX_SPACES, SpaceState};
use super::stores::apparatus::{Apparatus, Outside};
use super::stores::body::{BodyState, Metabolised};
use super::stores::limb::Limb;
use super::stores::parcel::{Fractions, Parcel};
use super::system::{Conditions, Exchange, GasState};
use crate::base::bracket::Bracket;
use crate::base::quantity::PartialPressure;
use crate::plant::plan::Plan;
use crate::setup::MAX_COMPARTMENTS;
use crate::stepping::step::Moment;

/// The part of a breath that fills the airway (textbook value, from memory: about a
/// third); it says what gas without blood holds before the first breath.
const AIRWAY_OF_BREATH: f64 = 1.0 / 3.0;
/// Rounds in which alveolar and arterial gas come to agree.
const MOST_ROUNDS: u32 = 40;
/// They agree within this, mmHg.
const AGREED_MMHG: f64 = 1e-10;

/// Gas that stands in lung and circuit, beside what they hold when relaxed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Held {
    /// In each lung compartment above its relaxed volume, mL.
    pub compartments_ml: [f64; MAX_COMPARTMENTS],
    /// In the circuit above atmospheric pressure, mL.
    pub circuit_ml: f64,
}

impl Held {
    /// What a moment of a run holds: with end-expiratory pressure more than nothing.
    ///
    /// ```
    /// use tidewright::exchange::Held;
    /// use tidewright::prelude::*;
    /// let mut setup = Setup::default(); // 6 mL/cmH2O
    /// setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(5.0);
    /// let held = Held::at(&Moment::at_rest(&Machine::new(setup)?));
    /// assert!((held.compartments_ml[0] - 30.0).abs() < 1e-9);
    /// # Ok::<(), SetupError>(())
    /// ```
    #[must_use]
    pub fn at(moment: &Moment) -> Self {
        let (circuit_ml, compartments_ml) = Plan::volumes(&moment.stored);
        Self { compartments_ml, circuit_ml }
    }
}

impl Exchange {
    /// As [`Exchange::steady_holding`], with lung and circuit relaxed.
    #[must_use]
    pub fn steady(&self, arterial_carbon_dioxide: PartialPressure, now: &Conditions) -> GasState {
        self.steady_holding(arterial_carbon_dioxide, now, &Held::default())
    }

    /// The steady state of an animal that breathes the fresh gas and has a given
    /// arterial carbon dioxide pressure; the circuit is full of fresh gas.
    ///
    /// Blood that passes no alveoli is counted: with a shunt s of the output Q, the
    /// arterial content is Cₐ = (1 − s)·C_cap + s·Cᵥ, where blood of content C_cap
    /// leaves alveoli whose oxygen follows from the alveolar gas equation.
    ///
    /// ```
    /// use tidewright::exchange::{Apparatus, Conditions, Exchange, Fractions};
    /// use tidewright::prelude::*;
    /// use tidewright::species::{Animal, Species};
    /// let dog = Animal::typical(Species::Dog, Mass::kg(20.0));
    /// let mut exchange = Exchange::new(&dog, &dog.lung(), Apparatus::default())?;
    /// let now = Conditions::of(&dog, 38.5, Fractions::OXYGEN);
    /// let arterial = |exchange: &Exchange| {
    ///     let gas = exchange.steady(PartialPressure::mmhg(40.0), &now);
    ///     exchange.body.arterial_gases(&gas.body)
    /// };
    /// exchange.shunt = 0.3;
    /// assert!((arterial(&exchange).carbon_dioxide.as_mmhg() - 40.0).abs() < 0.1);
    /// assert!(arterial(&exchange).oxygen.as_mmhg() < 450.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn steady_holding(
        &self,
        arterial_carbon_dioxide: PartialPressure,
        now: &Conditions,
        held: &Held,
    ) -> GasState {
        let (mixture, body) = self.alveoli_and_body(arterial_carbon_dioxide.as_mmhg(), now);
        let fresh = now.fresh_gas;
        let mut spaces = [SpaceState::default(); MAX_SPACES];
        let mut expired = Parcel::default();
        for (state, space) in spaces.iter_mut().zip(&self.spaces) {
            let c = space.compartment;
            let volume = space.share * (self.relaxed_ml[c] + held.compartments_ml[c]);
            let volume = volume.max(space.residue_ml);
            let here = match space.perfusion > 0.0 {
                true => mixture,
                false => without_blood(mixture, fresh, space.share),
            };
            *state = SpaceState::filled(space, here, volume);
            expired += Parcel::of(here, volume);
        }
        let Apparatus { limb_ml, airway_parcels, limb_mixing, limb_parcels, .. } = self.apparatus;
        let airway_ml = self.airway_ml + self.apparatus.adapter_ml;
        let limb_ml_now = (limb_ml + held.circuit_ml).max(0.0);
        GasState {
            body,
            metabolised: Metabolised::default(),
            strides: Strides::default(),
            way: Way {
                spaces,
                airway: Airway::filled(airway_ml, expired.fractions(), airway_parcels),
                limb: Limb::holding(limb_ml_now, limb_ml, fresh, limb_mixing, limb_parcels),
                outside: Outside::new(self.apparatus.bag_ml, fresh),
                fresh: Parcel::default(),
            },
        }
    }

    /// Alveolar gas and the body of a steady state.
    fn alveoli_and_body(&self, arterial_mmhg: f64, now: &Conditions) -> (Fractions, BodyState) {
        let (dry, fresh) = (self.dry_mmhg(), now.fresh_gas);
        let quotient = now.demand.carbon_dioxide_ml_s / now.demand.oxygen_ml_s;
        let loss = fresh.oxygen + (1.0 - fresh.oxygen) / quotient;
        let alveolar = |pco2: f64| Fractions {
            carbon_dioxide: pco2 / dry,
            oxygen: (fresh.oxygen - pco2 / dry * loss).max(0.0),
        };
        let steady = |po2: f64| self.body.steady(arterial_mmhg, po2, &now.demand);
        let mut mixture = alveolar(arterial_mmhg);
        let mut body = steady(mixture.oxygen * dry);
        if self.shunt <= 0.0 || now.demand.cardiac_output_ml_s <= 0.0 {
            return (mixture, body);
        }
        let curves = &self.body.curves;
        let past = self.shunt / (1.0 - self.shunt);
        let mut pco2 = arterial_mmhg;
        for _ in 0..MOST_ROUNDS {
            let (_, capillary_oxygen) = curves.carried(mixture.oxygen * dry, pco2);
            let short = |body: &BodyState| {
                let used = body.arterial.oxygen - body.venous.oxygen;
                capillary_oxygen - body.arterial.oxygen - past * used
            };
            body = falling_to_zero(0.0, mixture.oxygen * dry, |po2| {
                let body = steady(po2);
                (short(&body), body)
            });
            let made = body.venous.carbon_dioxide - body.arterial.carbon_dioxide;
            let capillary = body.arterial.carbon_dioxide - past * made;
            let next = curves.tensions(capillary, capillary_oxygen).carbon_dioxide.as_mmhg();
            let still = (next - pco2).abs() < AGREED_MMHG;
            pco2 = next;
            mixture = alveolar(pco2);
            if still {
                break;
            }
        }
        (mixture, body)
    }
}

/// Gas that meets no blood: what the airway brings back with each breath, and fresh
/// gas. With r the airway's part of a breath and u the share of this gas in what is
/// breathed out, x = r·((1 − u)·met + u·x).
fn without_blood(met: Fractions, fresh: Fractions, share: f64) -> Fractions {
    let back = AIRWAY_OF_BREATH * (1.0 - share) / (1.0 - AIRWAY_OF_BREATH * share);
    let mix = |met: f64, fresh: f64| back * met + (1.0 - back) * fresh;
    Fractions {
        carbon_dioxide: mix(met.carbon_dioxide, fresh.carbon_dioxide),
        oxygen: mix(met.oxygen, fresh.oxygen),
    }
}

/// What belongs to the zero of a falling function between two ends.
fn falling_to_zero<T>(low: f64, high: f64, at: impl Fn(f64) -> (f64, T)) -> T {
    let (at_low, _) = at(low);
    let (at_high, mut found) = at(high);
    if at_high == 0.0 {
        return found;
    }
    let mut bracket = Bracket::new((low, at_low), (high, at_high));
    for _ in 0..100 {
        let Bracket { low, high, .. } = bracket;
        if high - low <= AGREED_MMHG {
            break;
        }
        let mut x = bracket.guess();
        if !(x > low && x < high) {
            x = 0.5 * (low + high);
        }
        let (value, here) = at(x);
        found = here;
        if value.abs() < 1e-15 {
            break;
        }
        if value > 0.0 {
            bracket.raise_low(x, value);
        } else {
            bracket.lower_high(x, value);
        }
    }
    found
}
