//! What is changed while gas is followed: the breathing system, and where blood goes.

use super::stores::alveoli::Space;
use super::stores::apparatus::{Apparatus, ApparatusError};
use super::stores::limb::Limb;
use super::system::{Exchange, GasState};

impl Exchange {
    /// Puts another adapter of `adapter_ml` (mL, 0 or more) between tube and T-piece:
    /// the gas of the old one goes to the room, the new one comes full of room air.
    ///
    /// # Errors
    /// [`ApparatusError`]: an adapter that cannot be; nothing has changed then.
    ///
    /// ```
    /// use tidewright::exchange::{Apparatus, Conditions, Exchange, Fractions};
    /// use tidewright::prelude::*;
    /// use tidewright::species::{Animal, Species};
    /// let rabbit = Animal::typical(Species::Rabbit, Mass::kg(2.2));
    /// let mut exchange = Exchange::new(&rabbit, &rabbit.lung(), Apparatus::default())?;
    /// let now = Conditions::of(&rabbit, 38.5, Fractions::OXYGEN);
    /// let mut gas = exchange.steady(PartialPressure::mmhg(38.0), &now);
    /// let before = exchange.balance(&gas);
    /// exchange.change_adapter(&mut gas, 6.0)?;
    /// assert_eq!(exchange.apparatus.adapter_ml, 6.0);
    /// let lost = before - exchange.balance(&gas);
    /// assert!(lost.carbon_dioxide.abs() < 1e-9 * before.carbon_dioxide.abs());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn change_adapter(
        &mut self,
        state: &mut GasState,
        adapter_ml: f64,
    ) -> Result<(), ApparatusError> {
        let apparatus = Apparatus { adapter_ml, ..self.apparatus };
        apparatus.check()?;
        let way = &mut state.way;
        let air = way.outside.room_air(adapter_ml);
        let old_ml = self.apparatus.adapter_ml;
        let gone = way.airway.change_near_end(old_ml, air, apparatus.airway_parcels);
        way.outside.vented += gone;
        self.apparatus = apparatus;
        Ok(())
    }

    /// Puts another breathing system in the place of this one: as
    /// [`Exchange::change_adapter`] for its adapter; a limb of another volume comes full of
    /// room air and a bag of another size slack, and the gas of the old ones goes to the
    /// room. How gas mixes in a limb stays as it is.
    ///
    /// # Errors
    /// [`ApparatusError`]: one that cannot be; nothing has changed then.
    ///
    /// ```
    /// use tidewright::exchange::{Apparatus, Conditions, Exchange, Fractions};
    /// use tidewright::prelude::*;
    /// use tidewright::species::{Animal, Species};
    /// let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
    /// let mut exchange = Exchange::new(&cat, &cat.lung(), Apparatus::default())?;
    /// let now = Conditions::of(&cat, 38.5, Fractions::OXYGEN);
    /// let mut gas = exchange.steady(PartialPressure::mmhg(38.0), &now);
    /// let before = exchange.balance(&gas);
    /// let other = Apparatus { limb_ml: 40.0, bag_ml: 500.0, ..Apparatus::default() };
    /// exchange.change_apparatus(&mut gas, other)?;
    /// assert_eq!(exchange.apparatus, other);
    /// let lost = before - exchange.balance(&gas);
    /// assert!(lost.oxygen.abs() < 1e-9 * before.oxygen.abs());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn change_apparatus(
        &mut self,
        state: &mut GasState,
        to: Apparatus,
    ) -> Result<(), ApparatusError> {
        to.check()?;
        let Apparatus { airway_parcels, limb_mixing, limb_parcels, .. } = self.apparatus;
        let to = Apparatus { airway_parcels, limb_mixing, limb_parcels, ..to };
        if to.adapter_ml != self.apparatus.adapter_ml {
            self.change_adapter(state, to.adapter_ml)?;
        }
        let way = &mut state.way;
        if to.limb_ml != self.apparatus.limb_ml {
            let air = way.outside.room_air(to.limb_ml).fractions();
            let (ml, mixing) = (to.limb_ml, limb_mixing);
            let new = Limb::holding(ml, ml, air, mixing, limb_parcels);
            way.outside.vented += std::mem::replace(&mut way.limb, new).contents();
        }
        if to.bag_ml != self.apparatus.bag_ml {
            way.outside.change_bag(to.bag_ml);
        }
        self.apparatus = to;
        Ok(())
    }

    /// Gives every lung compartment another share of ventilation that meets no
    /// blood, from 0 to below 1; before a state is made of it.
    pub fn set_alveolar_dead_space(&mut self, share: f64) {
        let share = share.clamp(0.0, 0.99);
        let met: Vec<Space> = self.spaces.iter().filter(|s| s.perfusion > 0.0).copied().collect();
        self.spaces.clear();
        for space in met {
            self.spaces.push(Space { share: 1.0 - share, ..space });
            if share > 0.0 {
                self.spaces.push(Space { share, perfusion: 0.0, tissue_ml: 0.0, ..space });
            }
        }
    }

    /// Lets another share of every compartment's ventilation meet no blood from now on,
    /// from 0 to below 1: blood goes elsewhere, and the gas stays where it is.
    pub(crate) fn shift_alveolar_dead_space(&mut self, state: &mut GasState, share: f64) {
        if share == self.alveolar_dead_space() {
            return;
        }
        for met in 0..self.spaces.len() {
            let here = self.spaces[met];
            if here.perfusion == 0.0 {
                continue;
            }
            let no_blood =
                |space: &Space| space.compartment == here.compartment && space.perfusion == 0.0;
            let unmet = self.spaces.iter().position(no_blood).unwrap_or_else(|| {
                let residue_ml = 1e-3 * here.residue_ml;
                self.spaces.push(Space {
                    share: 0.0,
                    perfusion: 0.0,
                    tissue_ml: 0.0,
                    residue_ml,
                    ..here
                });
                self.spaces.len() - 1
            });
            let gas = &mut state.way.spaces;
            let all_ml = gas[met].volume(&here) + gas[unmet].volume(&self.spaces[unmet]);
            let more_ml = (share - self.spaces[unmet].share) * all_ml;
            let (from, to) = if more_ml > 0.0 { (met, unmet) } else { (unmet, met) };
            let moved = gas[from].take(&self.spaces[from], more_ml.abs());
            gas[to].add(moved);
            self.spaces[unmet].share = share;
            self.spaces[met].share = 1.0 - share;
        }
    }
}
