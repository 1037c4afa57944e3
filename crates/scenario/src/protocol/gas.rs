//! The gas of a scenario as the engine's own plan.

use tidewright::coupled::{Coupled, GasChange, GasPlan, GasSettings};
use tidewright::drive::Drive;
use tidewright::exchange::{
    Apparatus, Capnograph, Conditions, Exchange, Fractions, FreshGasInlet, GasError, LimbMixing,
};
use tidewright::quantity::{Mass, PartialPressure, Seconds};
use tidewright::run::Simulation;
use tidewright::setup::Lung;
use tidewright::species::{Animal, BodyCondition, Condition, Parameter, Posture, State};

use super::{Settings, moments};
use crate::format::{self, Change, Effort, Gas, Patient, Reservoir, Scenario};
use crate::read::{any, read_absent};

/// Volume of the adapter for each kg, and the most, mL (a teaching choice).
const ADAPTER_ML: (f64, f64) = (0.5, 20.0);
/// Volume of the limb for each mL of usual tidal volume, and the least, mL
/// (common practice, no source: a limb that holds more than a breath).
const LIMB: (f64, f64) = (1.5, 100.0);

/// A patient whose drive is nearly gone begins no higher (a teaching choice).
const HIGHEST_START_MMHG: f64 = 80.0;

/// Parcels in which plug flow is told: a front is no wider than that part of the limb.
const PLUG_PARCELS: u32 = 200;

impl format::LimbMixing {
    /// The engine's own, and in how many parts.
    #[must_use]
    pub fn in_parcels(self, limb_parcels: u32) -> (LimbMixing, u32) {
        match self {
            Self::Cells => (LimbMixing::Cells, limb_parcels),
            Self::PlugFlow => (LimbMixing::PlugFlow, PLUG_PARCELS),
        }
    }
}

impl Scenario {
    /// What a run with gas exchange begins from and what changes; `None` for a
    /// scenario without `gas`.
    ///
    /// # Errors
    /// A breathing system that cannot be; [`crate::parse`] accepts none.
    pub fn gas_plan(&self) -> Result<Option<GasPlan>, GasError> {
        let moments = moments(self);
        let Some(gas) = &self.gas else { return Ok(None) };
        let animal = self.patient.animal();
        // Of the lung that is run: what a fault needs is there from the start.
        let start = self.protocol().start;
        let mut exchange = gas.exchange(&start.lung, &animal)?;
        exchange.apparatus = self.assembled_apparatus(exchange.apparatus, &start);
        let settings = |settings: &Settings| settings.gas_settings(&animal);
        let changes = moments.iter().skip(1).filter_map(|moment| {
            let settings = settings(&moment.settings)?;
            Some(GasChange { at: Seconds::s(moment.from_s), settings })
        });
        let changes = changes.collect();
        let start = settings(&moments[0].settings);
        let monitor = &gas.capnograph;
        Ok(start.map(|start| GasPlan {
            exchange,
            arterial_carbon_dioxide: gas.arterial_at_start(&animal, start.drive.as_ref()),
            capnograph: Capnograph::new(
                Seconds::s(monitor.delay_s),
                Seconds::s(monitor.rise_time_s),
            ),
            start,
            changes,
            animal,
        }))
    }

    /// As [`Scenario::gas_plan`], with what `gas: ()` says where the scenario has none.
    ///
    /// # Errors
    /// As [`Scenario::gas_plan`].
    pub fn usual_gas_plan(&self) -> Result<Option<GasPlan>, GasError> {
        let gas = self.gas.clone().or_else(|| read_absent(&any().or_empty()));
        Self { gas, ..self.clone() }.gas_plan()
    }

    /// What of patient and fresh gas holds from which time on (s), the start first;
    /// empty for a scenario without `gas`.
    #[must_use]
    pub fn gas_numbers(&self) -> Vec<(f64, GasNumbers)> {
        let animal = self.patient.animal();
        let moments = moments(self).into_iter();
        let numbers = |settings: &Settings| settings.gas_numbers(&animal);
        moments.filter_map(|one| Some((one.from_s, numbers(&one.settings)?))).collect()
    }

    /// The run of a simulation of this scenario, with its gas and its patient's
    /// own drive: what [`crate::report::watch`] goes by, for who keeps stretches or
    /// draws them.
    ///
    /// ```
    /// use tidewright::run::Simulation;
    /// use tidewright_scenario::{DEMO, parse};
    /// let text = DEMO.replace("duration_s", "gas: (), duration_s");
    /// let scenario = parse("gas.ron", &text)?;
    /// let simulation = Simulation::new(&scenario.protocol())?;
    /// let (trace, gas) = scenario.coupled(&simulation)?.trace()?;
    /// assert!(trace.breaths().len() > 10 && gas.len() > 1000);
    /// assert!(gas.iter().any(|point| point.shown_carbon_dioxide_mmhg > 20.0));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Scenario::gas_plan`].
    pub fn coupled<'a>(&self, simulation: &'a Simulation) -> Result<Coupled<'a>, GasError> {
        Coupled::new(simulation, self.gas_plan()?.as_ref())
    }

    /// Whether at the start the patient's breathing follows its arterial carbon
    /// dioxide: there is then no settled breath.
    #[must_use]
    pub fn begins_with_drive(&self) -> bool {
        let start = &moments(self)[0].settings;
        matches!(start.patient.effort, Some(Effort::Drive(_)))
    }
}

/// What of a patient and its fresh gas holds at a time, in the units of the file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GasNumbers {
    /// Oxygen in the fresh gas, %.
    pub oxygen_percent: f64,
    /// Cardiac output, % of what is typical.
    pub cardiac_output_percent: f64,
    /// Core temperature, °C.
    pub temperature_c: f64,
    /// Depth of anaesthesia, 0 to 1; `None` for a patient without a drive of its own.
    pub depth: Option<f64>,
}

impl GasNumbers {
    /// The same for the engine.
    ///
    /// ```
    /// use tidewright_scenario::{DEMO, parse};
    /// let text = DEMO.replace("duration_s", "gas: (oxygen_percent: 40), duration_s");
    /// let scenario = parse("gas.ron", &text)?;
    /// let numbers = scenario.gas_numbers()[0].1;
    /// let settings = numbers.to_settings(&scenario.patient.animal());
    /// assert_eq!(settings.conditions.fresh_gas.oxygen, 0.4);
    /// assert!(settings.drive.is_none());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn to_settings(&self, animal: &Animal) -> GasSettings {
        let fresh_gas = Fractions { carbon_dioxide: 0.0, oxygen: self.oxygen_percent / 100.0 };
        let mut conditions = Conditions::of(animal, self.temperature_c, fresh_gas);
        conditions.demand.cardiac_output_ml_s *= self.cardiac_output_percent / 100.0;
        GasSettings { conditions, drive: self.depth.map(|depth| Drive::of(animal, depth)) }
    }
}

impl Settings {
    /// What the gas goes by; `None` without `gas`.
    fn gas_numbers(&self, animal: &Animal) -> Option<GasNumbers> {
        let gas = self.gas.as_ref()?;
        let usual = animal.value(Parameter::Temperature);
        Some(GasNumbers {
            oxygen_percent: gas.oxygen_percent,
            cardiac_output_percent: gas.cardiac_output_percent,
            temperature_c: gas.temperature_c.unwrap_or(usual),
            depth: match &self.patient.effort {
                Some(Effort::Drive(drive)) => Some(drive.depth),
                _ => None,
            },
        })
    }

    fn gas_settings(&self, animal: &Animal) -> Option<GasSettings> {
        self.gas_numbers(animal).map(|numbers| numbers.to_settings(animal))
    }
}

impl Patient {
    /// The typical animal of its kind, weight and condition.
    #[must_use]
    pub fn animal(&self) -> Animal {
        let condition = Condition {
            state: match self.state {
                format::State::Awake => State::Awake,
                format::State::Anaesthetised => State::Anaesthetised,
            },
            body: match self.body_condition {
                format::BodyCondition::Ideal => BodyCondition::Ideal,
                format::BodyCondition::Overweight => BodyCondition::Overweight,
                format::BodyCondition::Obese => BodyCondition::Obese,
            },
            posture: match self.posture {
                format::Posture::Sternal => Posture::Sternal,
                format::Posture::Lateral => Posture::Lateral,
                format::Posture::Dorsal => Posture::Dorsal,
            },
        };
        let typical = Animal::typical(self.species.to_core(), Mass::kg(self.weight_kg));
        Animal { condition, ..typical }
    }
}

impl Gas {
    /// What a change of the timeline sets, if it is one of gas.
    pub(super) fn change(&mut self, change: &Change) {
        match change {
            Change::FreshGasOxygen(new) => self.oxygen_percent = new.percent,
            Change::CardiacOutput(new) => self.cardiac_output_percent = new.percent,
            Change::Temperature(new) => self.temperature_c = Some(new.c),
            _ => {}
        }
    }

    /// As written; else what suits its drive; else the usual.
    fn arterial_at_start(&self, animal: &Animal, drive: Option<&Drive>) -> PartialPressure {
        let usual = PartialPressure::mmhg(animal.value(Parameter::ArterialCarbonDioxide));
        let suits = drive.and_then(Drive::usual_arterial);
        let suits = suits.map(|pressure| pressure.as_mmhg().min(HIGHEST_START_MMHG));
        let start = self.arterial_co2_mmhg.or(suits);
        start.map_or(usual, PartialPressure::mmhg)
    }

    /// The breathing system, as far as gas is concerned.
    #[must_use]
    pub fn apparatus(&self, animal: &Animal) -> Apparatus {
        let usual_ml = animal.value(Parameter::TidalVolume);
        let kg = animal.weight.as_kg();
        let (limb_mixing, limb_parcels) = self.limb_mixing.in_parcels(self.limb_parcels);
        Apparatus {
            adapter_ml: self.adapter_ml.unwrap_or((ADAPTER_ML.0 * kg).min(ADAPTER_ML.1)),
            limb_ml: self.limb_ml.unwrap_or((LIMB.0 * usual_ml).max(LIMB.1)),
            bag_ml: match &self.reservoir {
                Reservoir::OpenTube => 0.0,
                Reservoir::OpenBag(bag) => bag.ml,
            },
            inlet: match self.fresh_gas_inlet {
                format::FreshGasInlet::NearPatient => FreshGasInlet::Patient,
                format::FreshGasInlet::MachineEnd => FreshGasInlet::Machine,
            },
            sampling_ml_min: self.capnograph.sample_ml_min,
            limb_mixing,
            limb_parcels,
            ..Apparatus::default()
        }
    }

    fn exchange(&self, lung: &Lung, animal: &Animal) -> Result<Exchange, GasError> {
        let mut exchange = Exchange::new(animal, lung, self.apparatus(animal))?;
        if let Some(percent) = self.shunt_percent {
            exchange.shunt = percent / 100.0;
        }
        if let Some(ml) = self.airway_dead_space_ml {
            exchange.airway_ml = ml;
        }
        if let Some(percent) = self.alveolar_dead_space_percent {
            exchange.set_alveolar_dead_space(percent / 100.0);
        }
        Ok(exchange)
    }
}
