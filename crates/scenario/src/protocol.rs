//! From a scenario, in the units of its file, to what the engine runs.

use tidewright::quantity::{Compliance, Flow, Mass, Pressure, Resistance, Seconds};
use tidewright::run::{self, Protocol};
use tidewright::setup::{self, Setup};
use tidewright::species;

use crate::format::{
    Change, Circuit, Compartment, Leak, LeakLaw, Lung, Mode, Patient, PatientPort, Scenario,
    Species, Ventilator,
};

impl Scenario {
    /// What the engine runs: the setup at the start, and a whole setup for each
    /// time at which the timeline changes something.
    #[must_use]
    pub fn protocol(&self) -> Protocol {
        let mut moments = moments(self).into_iter();
        let start = moments.next().map(|start| start.settings.setup()).unwrap_or_default();
        let changes = moments.map(|moment| run::Change {
            at: Seconds::s(moment.from_s),
            setup: moment.settings.setup(),
        });
        Protocol { start, changes: changes.collect(), duration: Seconds::s(self.duration_s) }
    }
}

/// The settings from one time of change on.
#[derive(Clone, Debug)]
pub(crate) struct Moment {
    pub from_s: f64,
    pub settings: Settings,
    /// The timeline entries that brought them about.
    pub entries: Vec<usize>,
}

/// Start and changes in order of time, changes at one time taken together.
pub(crate) fn moments(scenario: &Scenario) -> Vec<Moment> {
    let settings = Settings::at_start(scenario);
    let mut moments = vec![Moment { from_s: 0.0, settings, entries: Vec::new() }];
    let mut order: Vec<usize> = (0..scenario.timeline.len()).collect();
    order.sort_by(|&a, &b| scenario.timeline[a].at_s.total_cmp(&scenario.timeline[b].at_s));
    for index in order {
        let entry = &scenario.timeline[index];
        let last = moments.len() - 1;
        if moments[last].from_s < entry.at_s {
            let settings = moments[last].settings.clone();
            moments.push(Moment { from_s: entry.at_s, settings, entries: Vec::new() });
        }
        if let Some(moment) = moments.last_mut() {
            moment.settings.change(&entry.set);
            moment.entries.push(index);
        }
    }
    moments
}

/// What holds at one time of a run, in the terms of the file.
#[derive(Clone, Debug)]
pub(crate) struct Settings {
    pub lung: setup::Lung,
    pub circuit: Circuit,
    pub ventilator: Ventilator,
}

impl Settings {
    pub fn at_start(scenario: &Scenario) -> Self {
        Self {
            lung: scenario.patient.lung(),
            circuit: scenario.circuit.clone(),
            ventilator: scenario.ventilator.clone(),
        }
    }

    pub fn change(&mut self, change: &Change) {
        let ventilator = &mut self.ventilator;
        match change {
            Change::FreshGasFlow(new) => ventilator.fresh_gas_flow_l_min = new.l_min,
            Change::CyclingPressure(new) => ventilator.cycling_pressure_cmh2o = new.cmh2o,
            Change::InspiratoryTimeLimit(new) => ventilator.inspiratory_time_limit_s = new.s,
            Change::ExpiratoryTime(new) => ventilator.expiratory_time_s = new.s,
            Change::EndExpiratoryPressure(new) => {
                ventilator.end_expiratory_pressure_cmh2o = new.cmh2o;
            }
            Change::ValveDelay(new) => ventilator.valve_delay_s = new.s,
            Change::Mode(mode) => ventilator.mode = *mode,
            Change::Leak(leak) => self.circuit.leak = Some(leak.clone()),
            Change::NoLeak => self.circuit.leak = None,
            Change::Lung(lung) => self.lung = lung.to_setup(),
            Change::ValveResistance(new) => {
                self.circuit.valve_resistance_cmh2o_s_l = new.cmh2o_s_l;
            }
            Change::PatientPort(port) => self.circuit.patient_port = *port,
        }
    }

    pub fn setup(&self) -> Setup {
        Setup {
            lung: self.lung.clone(),
            circuit: self.circuit.to_setup(),
            ventilator: self.ventilator.to_setup(),
            ..Setup::default()
        }
    }
}

impl Patient {
    /// The lung of the file, or a typical one for species and weight.
    #[must_use]
    pub fn lung(&self) -> setup::Lung {
        match &self.lung {
            Some(lung) => lung.to_setup(),
            None => typical_lung(self),
        }
    }
}

fn typical_lung(patient: &Patient) -> setup::Lung {
    species::lung(patient.species.to_core(), Mass::kg(patient.weight_kg))
}

impl Species {
    /// The same species for the engine's tables.
    #[must_use]
    pub fn to_core(self) -> species::Species {
        match self {
            Self::Cat => species::Species::Cat,
            Self::Dog => species::Species::Dog,
            Self::Rabbit => species::Species::Rabbit,
            Self::Ferret => species::Species::Ferret,
            Self::GuineaPig => species::Species::GuineaPig,
            Self::Rat => species::Species::Rat,
            Self::Horse => species::Species::Horse,
            Self::Other => species::Species::Other,
        }
    }
}

impl Lung {
    fn to_setup(&self) -> setup::Lung {
        match self {
            Self::Single(only) => {
                setup::Lung { compartments: vec![only.to_setup()], ..setup::Lung::default() }
            }
            Self::Compartments(lung) => setup::Lung {
                compartments: lung.compartments.iter().map(Compartment::to_setup).collect(),
                tube: match lung.tube_resistance_cmh2o_s_l {
                    0.0 => setup::Tube::None,
                    resistance => setup::Tube::Linear(Resistance::cmh2o_s_per_l(resistance)),
                },
                ..setup::Lung::default()
            },
        }
    }
}

impl Compartment {
    fn to_setup(&self) -> setup::Compartment {
        setup::Compartment::new(
            Compliance::ml_per_cmh2o(self.compliance_ml_cmh2o),
            Resistance::cmh2o_s_per_l(self.resistance_cmh2o_s_l),
        )
    }
}

impl Circuit {
    fn to_setup(&self) -> setup::Circuit {
        setup::Circuit {
            compliance: Compliance::ml_per_cmh2o(self.compliance_ml_cmh2o),
            valve_resistance: Resistance::cmh2o_s_per_l(self.valve_resistance_cmh2o_s_l),
            leak: self.leak.as_ref().filter(|leak| leak.ml_min > 0.0).map(Leak::to_setup),
            patient_port: match self.patient_port {
                PatientPort::Connected => setup::PatientPort::Connected,
                PatientPort::Blocked => setup::PatientPort::Blocked,
                PatientPort::Open => setup::PatientPort::Open,
            },
            ..setup::Circuit::default()
        }
    }
}

impl Leak {
    fn to_setup(&self) -> setup::Leak {
        setup::Leak {
            flow: Flow::ml_s(self.ml_min / 60.0),
            at: Pressure::cmh2o(self.at_cmh2o),
            law: match self.law {
                LeakLaw::Linear => setup::LeakLaw::Linear,
                LeakLaw::Orifice => setup::LeakLaw::Orifice,
            },
        }
    }
}

impl Ventilator {
    fn to_setup(&self) -> setup::Ventilator {
        setup::Ventilator {
            mode: match self.mode {
                Mode::Ventilating => setup::Mode::Ventilating,
                Mode::Standby => setup::Mode::Standby,
            },
            fresh_gas_flow: Flow::l_per_min(self.fresh_gas_flow_l_min),
            cycling_pressure: Pressure::cmh2o(self.cycling_pressure_cmh2o),
            inspiratory_time_limit: Seconds::s(self.inspiratory_time_limit_s),
            expiratory_time: Seconds::s(self.expiratory_time_s),
            end_expiratory_pressure: Pressure::cmh2o(self.end_expiratory_pressure_cmh2o),
            valve_delay: Seconds::s(self.valve_delay_s),
        }
    }
}
