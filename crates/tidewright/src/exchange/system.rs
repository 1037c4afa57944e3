//! An animal on a breathing system, made ready to exchange gas, and the gas itself.

use super::breathing::{Course, Moved, Passed, Way};
use super::check::{GasError, not_negative, positive, share};
use super::owed::Strides;
use super::stores::alveoli::{Bloodstream, MAX_SPACES, Space};
use super::stores::apparatus::Apparatus;
use super::stores::body::{Body, BodyState, Content, Demand, Metabolised, Passage, Tissue};
use super::stores::parcel::{Fractions, Parcel};
use crate::animal::alveolar::{STANDARD_PRESSURE_MMHG, WATER_VAPOUR_MMHG, btps_per_stpd};
use crate::animal::blood::{Blood, Dissociation};
use crate::animal::species::{Animal, Parameter};
use crate::base::quantity::PartialPressure;
use crate::setup::{Lung, MAX_COMPARTMENTS};
use crate::stepping::machine::Machine;

/// Share of a space's relaxed volume that stays when it closes; a teaching choice.
const RESIDUE: f64 = 0.02;

/// An animal on a breathing system, made ready to exchange gas.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Exchange {
    /// The alveolar spaces, at most [`MAX_SPACES`].
    pub(super) spaces: Vec<Space>,
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
    pub(super) way: Way,
    pub(super) strides: Strides,
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

    /// Checks that they can be.
    ///
    /// # Errors
    /// [`GasError`]: what is wrong first.
    ///
    /// ```
    /// use tidewright::exchange::{Conditions, Fractions, GasError};
    /// use tidewright::prelude::*;
    /// use tidewright::species::{Animal, Species};
    /// let horse = Animal::typical(Species::Horse, Mass::kg(400.0));
    /// let wrong = Fractions { oxygen: 21.0, ..Fractions::AIR };
    /// let error = Conditions::of(&horse, 38.5, wrong).check().unwrap_err();
    /// assert_eq!(
    ///     error.to_string(),
    ///     "the fresh gas' share of oxygen is 21, and must be a share from 0 to 1"
    /// );
    /// ```
    pub fn check(&self) -> Result<(), GasError> {
        let demand = &self.demand;
        not_negative("the cardiac output in mL/s", demand.cardiac_output_ml_s)?;
        not_negative("the oxygen that the tissues want in mL/s", demand.oxygen_ml_s)?;
        not_negative(
            "the carbon dioxide that the tissues make in mL/s",
            demand.carbon_dioxide_ml_s,
        )?;
        self.fresh_gas.check()
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

    /// Checks that it can be, and that it is for the lung of a machine.
    ///
    /// # Errors
    /// [`GasError`]: what is wrong first.
    pub fn check(&self, machine: &Machine) -> Result<(), GasError> {
        let compartments = machine.setup().lung.compartments.len();
        let exchange = self.relaxed_ml.iter().filter(|&&relaxed| relaxed != 0.0).count();
        if exchange != compartments {
            return Err(GasError::OtherLung { exchange, machine: compartments });
        }
        self.apparatus.check()?;
        let spaces = self.spaces.len();
        let known = |space: &Space| space.compartment < compartments;
        let met = |index| self.spaces.iter().any(|space| space.compartment == index);
        if spaces > MAX_SPACES || !self.spaces.iter().all(known) || !(0..compartments).all(met) {
            return Err(GasError::Spaces { spaces, compartments });
        }
        for space in &self.spaces {
            share("a space's share of its compartment", space.share)?;
            share("a space's share of the blood", space.perfusion)?;
            not_negative("the tissue of a space in mL", space.tissue_ml)?;
            positive("the residue of a space in mL", space.residue_ml)?;
        }
        for &relaxed in &self.relaxed_ml[..compartments] {
            positive("the relaxed volume of a compartment in mL", relaxed)?;
        }
        not_negative("the volume of tube and airway in mL", self.airway_ml)?;
        share("the shunt", self.shunt)?;
        positive("the pressure of dry gas in mmHg", self.dry_mmhg())
    }

    /// The part of a step in which gas moves, and meets no blood.
    pub(super) fn move_gas(&self, state: &mut GasState, moved: &Moved, now: &Conditions) -> Passed {
        let course = Course {
            spaces: &self.spaces,
            relaxed_ml: &self.relaxed_ml,
            apparatus: &self.apparatus,
        };
        state.way.step(&course, moved, now.fresh_gas)
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

    /// Share of the ventilation of a lung compartment that meets no blood.
    #[must_use]
    pub fn alveolar_dead_space(&self) -> f64 {
        let first = |space: &&Space| space.compartment == 0 && space.perfusion == 0.0;
        self.spaces.iter().find(first).map_or(0.0, |space| space.share)
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
    pub(super) fn meet_blood(&self, state: &mut GasState, now: &Conditions, step_s: f64) -> f64 {
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
