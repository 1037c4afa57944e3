//! Where all carbon dioxide and oxygen went: nothing is made of nothing.

use super::stores::parcel::Parcel;
use super::system::{Exchange, GasState};
use crate::animal::alveolar::btps_per_stpd;

/// One gas of a run, mL STPD: what is held now, and all that came and went so far.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Account {
    /// Held by lung, airway, circuit, bag, blood and tissues.
    pub held_ml: f64,
    /// Came with fresh gas.
    pub fresh_gas_ml: f64,
    /// Came with room air.
    pub room_air_ml: f64,
    /// Left for the room.
    pub vented_ml: f64,
    /// Made by the tissues; used counts negative.
    pub made_ml: f64,
}

/// Both gases.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Ledger {
    /// Carbon dioxide.
    pub carbon_dioxide: Account,
    /// Oxygen.
    pub oxygen: Account,
}

impl Account {
    /// What came, went and changed since another time.
    #[must_use]
    pub fn since(&self, before: &Self) -> Self {
        Self {
            held_ml: self.held_ml - before.held_ml,
            fresh_gas_ml: self.fresh_gas_ml - before.fresh_gas_ml,
            room_air_ml: self.room_air_ml - before.room_air_ml,
            vented_ml: self.vented_ml - before.vented_ml,
            made_ml: self.made_ml - before.made_ml,
        }
    }

    /// Of what [`Account::since`] gives: gas held more than what came, went and was
    /// made explains, mL STPD. Anything but rounding is a fault of the model.
    #[must_use]
    pub fn unexplained_ml(&self) -> f64 {
        self.held_ml + self.vented_ml - self.fresh_gas_ml - self.room_air_ml - self.made_ml
    }
}

impl Ledger {
    /// What came, went and changed since another time.
    ///
    /// ```
    /// use tidewright::exchange::{Apparatus, Conditions, Exchange, Fractions};
    /// use tidewright::prelude::*;
    /// use tidewright::species::{Animal, Species};
    /// let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
    /// let exchange = Exchange::new(&cat, &cat.lung(), Apparatus::default())?;
    /// let now = Conditions::of(&cat, 38.5, Fractions::OXYGEN);
    /// let mut gas = exchange.steady(PartialPressure::mmhg(38.0), &now);
    /// let before = exchange.ledger(&gas);
    /// for _ in 0..600 {
    ///     exchange.breathe_evenly(&mut gas, 8.0, Fractions::OXYGEN, &now, 0.1);
    /// }
    /// let minute = exchange.ledger(&gas).since(&before);
    /// let used_ml = -minute.oxygen.made_ml;
    /// assert!((used_ml / (60.0 * now.demand.oxygen_ml_s) - 1.0).abs() < 1e-9);
    /// assert!(minute.oxygen.unexplained_ml().abs() < 1e-9 * used_ml);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn since(&self, before: &Self) -> Self {
        Self {
            carbon_dioxide: self.carbon_dioxide.since(&before.carbon_dioxide),
            oxygen: self.oxygen.since(&before.oxygen),
        }
    }
}

impl Exchange {
    /// Carbon dioxide and oxygen: what is held, and what came and went so far.
    #[must_use]
    pub fn ledger(&self, state: &GasState) -> Ledger {
        let btps = btps_per_stpd(self.barometric);
        let stored = self.body.stored(&state.body);
        let (held, way) = (self.gas_held(state), &state.way);
        let account = |of: fn(&Parcel) -> f64, stored: f64, made_ml: f64| Account {
            held_ml: of(&held) / btps + stored,
            fresh_gas_ml: of(&way.fresh) / btps,
            room_air_ml: of(&way.outside.drawn) / btps,
            vented_ml: of(&way.outside.vented) / btps,
            made_ml,
        };
        let metabolised = state.metabolised;
        Ledger {
            carbon_dioxide: account(
                |gas| gas.carbon_dioxide,
                stored.carbon_dioxide,
                metabolised.carbon_dioxide,
            ),
            oxygen: account(|gas| gas.oxygen, stored.oxygen, -metabolised.oxygen),
        }
    }

    /// All carbon dioxide, oxygen and other gas of the system so far, mL BTPS,
    /// that which left and was made or used counted with it: constant whatever
    /// happens.
    #[must_use]
    pub fn balance(&self, state: &GasState) -> Parcel {
        let btps = btps_per_stpd(self.barometric);
        let way = &state.way;
        let mut all = self.gas_held(state);
        all += way.outside.vented;
        all = all - way.outside.drawn - way.fresh;
        let stored = self.body.stored(&state.body);
        let made = (stored.carbon_dioxide - state.metabolised.carbon_dioxide) * btps;
        let used = (stored.oxygen + state.metabolised.oxygen) * btps;
        all.volume += made + used;
        all.carbon_dioxide += made;
        all.oxygen += used;
        all
    }

    /// Gas in lung, airway, circuit and bag, mL BTPS.
    fn gas_held(&self, state: &GasState) -> Parcel {
        let way = &state.way;
        let mut all = way.airway.contents();
        all += way.limb.contents();
        all += way.outside.held();
        for (space, gas) in way.spaces.iter().enumerate() {
            let mut gas = *gas;
            gas.get(&state.strides.coming(space));
            all.volume += gas.carbon_dioxide + gas.oxygen + gas.other;
            all.carbon_dioxide += gas.carbon_dioxide;
            all.oxygen += gas.oxygen;
        }
        all
    }
}
