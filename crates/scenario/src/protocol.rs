//! From a scenario, in the units of its file, to what the engine runs.

mod assembly;
mod cylinder;
mod faults;
mod gas;
mod setup;

use tidewright::fault::with_faults;
use tidewright::quantity::{Resistance, Seconds};
use tidewright::run::{self, Protocol};
use tidewright::setup::Setup;

pub use gas::GasNumbers;

use crate::format::{Assembly, Change, Circuit, Gas, Patient, Scenario, Ventilator};

impl Scenario {
    /// What the engine runs: the setup at the start, and a whole setup for each
    /// time at which the timeline or a fault changes something, or the cylinder is
    /// empty.
    #[must_use]
    pub fn protocol(&self) -> Protocol {
        self.with_cylinder(self.protocol_with_faults())
    }

    fn protocol_with_faults(&self) -> Protocol {
        let own = self.protocol_without_faults();
        if self.faults.is_empty() { own } else { with_faults(&own, &faults::timed(self)) }
    }

    /// What the engine would run if nothing went wrong.
    #[must_use]
    pub fn protocol_without_faults(&self) -> Protocol {
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
    pub patient: Patient,
    pub circuit: Circuit,
    pub assembly: Option<Assembly>,
    pub ventilator: Ventilator,
    pub gas: Option<Gas>,
}

impl Settings {
    pub fn at_start(scenario: &Scenario) -> Self {
        Self {
            patient: scenario.patient.clone(),
            circuit: scenario.circuit.clone(),
            assembly: scenario.assembly.clone(),
            ventilator: scenario.ventilator.clone(),
            gas: scenario.gas.clone(),
        }
    }

    pub fn change(&mut self, change: &Change) {
        let Self { patient, circuit, ventilator, gas, .. } = self;
        match change.clone() {
            Change::FreshGasFlow(new) => ventilator.fresh_gas_flow_l_min = new.l_min,
            Change::CyclingPressure(new) => ventilator.cycling_pressure_cmh2o = new.cmh2o,
            Change::InspiratoryTimeLimit(new) => ventilator.inspiratory_time_limit_s = new.s,
            Change::ExpiratoryTime(new) => ventilator.expiratory_time_s = new.s,
            Change::EndExpiratoryPressure(new) => {
                ventilator.end_expiratory_pressure_cmh2o = new.cmh2o;
            }
            Change::ValveDelay(new) => ventilator.valve_delay_s = new.s,
            Change::Mode(mode) => ventilator.mode = mode,
            Change::Leak(leak) => circuit.leak = Some(leak),
            Change::NoLeak => circuit.leak = None,
            Change::Lung(lung) => patient.lung = Some(lung),
            Change::Tube(tube) => patient.tube = Some(tube),
            Change::Cuff(cuff) => patient.cuff = Some(cuff),
            Change::CuffSeals => patient.cuff = None,
            Change::ChestWall(wall) => patient.chest_wall = Some(wall),
            Change::Viscoelastic(branch) => patient.viscoelastic = Some(branch),
            Change::Effort(effort) => patient.effort = Some(effort),
            Change::NoEffort => patient.effort = None,
            Change::ValveResistance(new) => circuit.valve_resistance_cmh2o_s_l = new.cmh2o_s_l,
            Change::Valve(valve) => circuit.valve = valve,
            Change::BackflowCheck(check) => circuit.backflow_check = check,
            Change::Limb(limb) => circuit.limb = Some(limb),
            Change::WaterInLimb(water) => circuit.water_in_limb_cmh2o = water.cmh2o,
            Change::Relief(relief) => circuit.relief = Some(relief),
            Change::Sensor(sensor) => circuit.sensor = sensor,
            Change::PatientPort(port) => circuit.patient_port = port,
            // Without `gas` the checks refuse these.
            Change::FreshGasOxygen(_) | Change::CardiacOutput(_) | Change::Temperature(_) => {
                gas.iter_mut().for_each(|gas| gas.change(change));
            }
        }
    }

    /// What the engine runs; what no scenario that was read comes to, the engine refuses.
    pub fn setup(&self) -> Setup {
        self.try_setup().unwrap_or_else(|_| {
            let mut impossible = self.without_assembly();
            impossible.circuit.valve_resistance = Resistance::ZERO;
            impossible
        })
    }

    /// The same, or why the parts of the circuit make no machine.
    pub fn try_setup(&self) -> Result<Setup, String> {
        let base = self.without_assembly();
        match &self.assembly {
            None => Ok(base),
            Some(assembly) => assembly.assembled(&base).map(|made| made.setup),
        }
    }

    fn without_assembly(&self) -> Setup {
        Setup {
            lung: self.patient.lung(),
            effort: self.patient.effort(),
            circuit: self.circuit.to_setup(),
            ventilator: self.ventilator.to_setup(),
        }
    }
}
