//! Gas exchange: what the breath does to carbon dioxide and oxygen, from the
//! cylinder to the tissues and back.
//!
//! The breath comes from elsewhere: from the engine ([`follow`]), or from any
//! list of volumes ([`Exchange::step`]). Gas moves as parcels through limb,
//! adapter, tube and airway; in the alveoli it meets blood; blood goes round
//! through tissues that make carbon dioxide and use oxygen. Nothing here knows
//! of pressures in the airway, and the engine knows nothing of gases.
//!
//! Volumes of gas are mL at body conditions (BTPS), as the engine's are;
//! fractions are those of dry gas; pressures are of gas saturated at 37 °C. The
//! few cmH2O of the breath are neglected beside the barometric pressure, and
//! with them less than 2 % of each partial pressure.
//!
//! A step is symmetric: half of the exchange with blood, all of the movement,
//! half of the exchange. Halving it changes results by its square.

mod before;
mod breathing;
mod capnograph;
mod check;
mod follow;
mod given;
mod ledger;
mod meter;
mod reader;
mod start;
mod stores;
mod strides;
pub mod supply;

pub use breathing::{Moved, Passed};
pub use capnograph::{Capnograph, Fowler, fowler_dead_space_ml};
pub use check::GasError;
pub(crate) use check::{not_negative, number, positive};
pub use follow::{Sample, Steps, USUAL_STEPS, follow};
pub(crate) use follow::{follow_checked, walk};
pub use given::{GivenBreaths, Pattern, SettledGas, fresh_gas_need};
pub use ledger::{Account, Ledger};
pub use meter::{GasBreath, GasMeter, NOTICED_SHARE, NOTICED_WITHIN_S};
pub use start::Held;
pub use stores::alveoli::{MAX_SPACES, Space, SpaceState};
pub use stores::apparatus::{Apparatus, ApparatusError, FreshGasInlet, LimbMixing};
pub use stores::body::{
    Body, BodyState, CRITICAL, Content, Demand, Metabolised, Passage, Tissue, oxygen_used,
};
pub use stores::parcel::{Fractions, Parcel};

use breathing::{Course, Way};
use stores::alveoli::Bloodstream;
use strides::Strides;

use crate::animal::alveolar::{STANDARD_PRESSURE_MMHG, WATER_VAPOUR_MMHG, btps_per_stpd};
use crate::animal::blood::{Blood, Dissociation};
use crate::animal::species::{Animal, Parameter};
use crate::base::quantity::PartialPressure;
use crate::setup::Lung;
use crate::setup::MAX_COMPARTMENTS;

/// Share of a space's relaxed volume that stays when it closes; a teaching choice.
const RESIDUE: f64 = 0.02;

/// An animal on a breathing system, made ready to exchange gas.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Exchange {
    /// The alveolar spaces, at most [`MAX_SPACES`].
    spaces: Vec<Space>,
    /// Gas of each lung compartment at its relaxed volume, mL.
    pub relaxed_ml: [f64; MAX_COMPARTMENTS],
    /// Volume of tube and airway from the adapter to the alveoli, mL.
    pub airway_ml: f64,
    /// Share of the cardiac output that passes no alveoli, 0 to 1.
    pub shunt: f64,
    /// Blood and tissues.
    pub body: Body,
    /// The breathing system.
    pub apparatus: Apparatus,
    /// Barometric pressure.
    pub barometric: PartialPressure,
}

/// What may change from step to step without the animal changing.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Conditions {
    /// The circulation and the metabolism.
    pub demand: Demand,
    /// What the fresh gas is.
    pub fresh_gas: Fractions,
}

/// All that changes. Cloning it is saving it.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct GasState {
    /// Blood and tissues.
    pub body: BodyState,
    /// What the tissues exchanged so far.
    pub metabolised: Metabolised,
    way: Way,
    strides: Strides,
}

impl Conditions {
    /// An animal at a core temperature (°C) that is given a fresh gas. Output goes with
    /// metabolism (oxygen use and heart rate fall exponentially in cooled dogs: an abstract
    /// without numbers).
    #[must_use]
    pub fn of(animal: &Animal, temperature_c: f64, fresh_gas: Fractions) -> Self {
        let metabolism =
            animal.oxygen_consumption(temperature_c) / animal.value(Parameter::OxygenConsumption);
        Self {
            demand: Demand {
                cardiac_output_ml_s: animal.value(Parameter::CardiacOutput) / 60.0 * metabolism,
                oxygen_ml_s: animal.oxygen_consumption(temperature_c) / 60.0,
                carbon_dioxide_ml_s: animal.carbon_dioxide_production(temperature_c) / 60.0,
            },
            fresh_gas,
        }
    }
}

impl Exchange {
    /// An animal with a lung on a breathing system, at sea level.
    ///
    /// The functional residual capacity and the blood are shared among the
    /// compartments as their compliances; each has an alveolar dead space.
    ///
    /// # Errors
    /// [`GasError`]: an apparatus that cannot be, or a lung of too many compartments.
    pub fn new(animal: &Animal, lung: &Lung, apparatus: Apparatus) -> Result<Self, GasError> {
        apparatus.check()?;
        let compartments = lung.compartments.len();
        if compartments > MAX_COMPARTMENTS {
            return Err(GasError::Spaces { spaces: 2 * compartments, compartments });
        }
        let value = |parameter| animal.value(parameter);
        let total = lung.total_compliance().as_ml_per_cmh2o();
        let unperfused = value(Parameter::AlveolarDeadSpace);
        let (mut spaces, mut relaxed_ml) = (Vec::new(), [0.0; MAX_COMPARTMENTS]);
        for (compartment, part) in lung.compartments.iter().enumerate() {
            let share = part.compliance.as_ml_per_cmh2o() / total;
            relaxed_ml[compartment] = share * value(Parameter::FunctionalResidualCapacity);
            let tissue_ml = share * value(Parameter::LungTissueSpace);
            let relaxed = relaxed_ml[compartment];
            let met = Space {
                compartment,
                share: 1.0 - unperfused,
                perfusion: share,
                tissue_ml,
                residue_ml: RESIDUE * relaxed,
            };
            let unmet = Space { share: unperfused, perfusion: 0.0, tissue_ml: 0.0, ..met };
            spaces.push(met);
            if unperfused > 0.0 {
                spaces.push(unmet);
            }
        }
        let blood_ml = value(Parameter::BloodVolume);
        let slow_share =
            (value(Parameter::SlowTissueFlow) / value(Parameter::CardiacOutput)).min(0.5);
        Ok(Self {
            spaces,
            relaxed_ml,
            airway_ml: value(Parameter::DeadSpace) + animal.tube_volume_ml(),
            shunt: value(Parameter::Shunt),
            body: Body {
                curves: Dissociation::of(&Blood::of(animal)),
                // A teaching choice: the blood that mixes between lung and artery.
                // More is arterial (a quarter: Lin et al., Respir Physiol
                // 1975;24:313-324, abstract, dogs) but moves without mixing.
                arterial_ml: 0.1 * blood_ml,
                venous_ml: 0.9 * blood_ml,
                tissues: [
                    Tissue {
                        store_ml_mmhg: value(Parameter::FastCarbonDioxideStore),
                        share: 1.0 - slow_share,
                    },
                    Tissue {
                        store_ml_mmhg: value(Parameter::SlowCarbonDioxideStore),
                        share: slow_share,
                    },
                ],
            },
            apparatus,
            barometric: PartialPressure::mmhg(STANDARD_PRESSURE_MMHG),
        })
    }

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

    /// Goes on by a step in which gas moved.
    pub fn step(&self, state: &mut GasState, moved: &Moved, now: &Conditions) -> Passed {
        let mut strides = Strides::default();
        let passed = strides.step(self, state, moved, now);
        strides.end(self, state, now);
        passed
    }

    /// The part of a step in which gas moves, and meets no blood.
    fn move_gas(&self, state: &mut GasState, moved: &Moved, now: &Conditions) -> Passed {
        let course = Course {
            spaces: &self.spaces,
            relaxed_ml: &self.relaxed_ml,
            apparatus: &self.apparatus,
        };
        state.way.step(&course, moved, now.fresh_gas)
    }

    /// Goes on by a step (s) of even ventilation (mL/s, at the alveoli) without
    /// breaths or a breathing system: the quick way to what minutes do.
    pub fn breathe_evenly(
        &self,
        state: &mut GasState,
        ventilation_ml_s: f64,
        inspired: Fractions,
        now: &Conditions,
        step_s: f64,
    ) {
        self.meet_blood(state, now, step_s / 2.0);
        for (gas, space) in state.way.spaces.iter_mut().zip(&self.spaces) {
            let relaxed = space.share * self.relaxed_ml[space.compartment];
            let total: f64 = self.relaxed_ml.iter().sum();
            let expired = ventilation_ml_s * step_s * relaxed / total;
            // A well-mixed volume loses 1 − e^(−V̇t/V) of its gas.
            let volume = gas.volume(space);
            let out = gas.take(space, -crate::base::math::expm1(-expired / volume) * volume);
            state.way.outside.vented += out;
            let missing = relaxed - gas.volume(space);
            if missing > 0.0 {
                let inspired = Parcel::of(inspired, missing);
                state.way.fresh += inspired;
                gas.add(inspired);
            } else {
                state.way.outside.vented += gas.take(space, -missing);
            }
        }
        self.meet_blood(state, now, step_s / 2.0);
    }

    /// Fresh gas that a run has used so far, and the oxygen in it, mL BTPS.
    #[must_use]
    pub fn fresh_gas_used(&self, state: &GasState) -> Parcel {
        state.way.fresh
    }

    /// The alveolar spaces.
    #[must_use]
    pub fn spaces(&self) -> &[Space] {
        &self.spaces
    }

    /// Alveolar gas of a space, by its place in [`Exchange::spaces`].
    #[must_use]
    pub fn alveolar(&self, state: &GasState, space: usize) -> Option<Fractions> {
        Some(state.way.spaces.get(space)?.fractions(self.spaces.get(space)?))
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

    /// Share of the ventilation of a lung compartment that meets no blood.
    #[must_use]
    pub fn alveolar_dead_space(&self) -> f64 {
        let first = |space: &&Space| space.compartment == 0 && space.perfusion == 0.0;
        self.spaces.iter().find(first).map_or(0.0, |space| space.share)
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

    /// Alveolar gas that meets blood, each space weighted by its share of it; all
    /// spaces alike where none meets any.
    #[must_use]
    pub fn mean_alveolar(&self, state: &GasState) -> Fractions {
        let (mut sum, mut weight) = (Fractions::default(), 0.0);
        for (gas, space) in state.way.spaces.iter().zip(&self.spaces) {
            if space.perfusion > 0.0 {
                let here = gas.fractions(space);
                sum.carbon_dioxide += space.perfusion * here.carbon_dioxide;
                sum.oxygen += space.perfusion * here.oxygen;
                weight += space.perfusion;
            }
        }
        if weight == 0.0 {
            return self.alveolar(state, 0).unwrap_or_default();
        }
        Fractions { carbon_dioxide: sum.carbon_dioxide / weight, oxygen: sum.oxygen / weight }
    }

    /// Pressure of dry gas in the alveoli, mmHg: barometric less water vapour.
    #[must_use]
    pub fn dry_mmhg(&self) -> f64 {
        self.barometric.as_mmhg() - WATER_VAPOUR_MMHG
    }

    /// Alveoli and blood exchange gas, and blood goes on its way, for a time (s). Returns
    /// by which share of its gas the space that bends most differs from a straight line.
    fn meet_blood(&self, state: &mut GasState, now: &Conditions, step_s: f64) -> f64 {
        let flow = now.demand.cardiac_output_ml_s;
        let venous = state.body.venous;
        let blood = Bloodstream {
            curves: &self.body.curves,
            venous,
            flow_ml_s: flow * (1.0 - self.shunt),
            dry_mmhg: self.dry_mmhg(),
            btps: btps_per_stpd(self.barometric),
        };
        let (mut passed, mut bent) = (Content::default(), 0.0_f64);
        for (gas, space) in state.way.spaces.iter_mut().zip(&self.spaces) {
            let crossing = gas.exchange(space, &blood, step_s);
            bent = bent.max(crossing.bent);
            passed.carbon_dioxide += crossing.carbon_dioxide;
            passed.oxygen += crossing.oxygen;
        }
        let mut lung = Passage { came: venous, returned: venous };
        if flow > 0.0 {
            let each = 1.0 / (flow * step_s);
            lung.returned.carbon_dioxide -= passed.carbon_dioxide * each;
            lung.returned.oxygen -= passed.oxygen * each;
        }
        let metabolised = self.body.advance(&mut state.body, &lung, &now.demand, step_s);
        state.metabolised.carbon_dioxide += metabolised.carbon_dioxide;
        state.metabolised.oxygen += metabolised.oxygen;
        bent
    }
}
