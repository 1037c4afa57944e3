//! What hands have done and what is wrong, and the machine that follows from both.

use tidewright::fault::Fault;
use tidewright::quantity::{Flow, Pressure, Resistance, Seconds};
use tidewright::setup::{self, PatientPort, Setup};
use tidewright_scenario::format::{Act, Id, Mode};

use crate::case::care::Care;
use crate::case::table::Table;
use crate::case::tube::{Dragged, Handling};

/// Cuff pressure at which [`Fault::CuffLeak`] begins, cmH2O; a new tube's is filled to it.
const FULL_CUFF_CMH2O: f64 = 25.0;
/// The drain that a surgeon puts into a chest, open to the room (assumed).
const DRAIN_CMH2O_S_L: f64 = 300.0;
/// Bag breaths: flow for each kg, L/min; peak pressure, cmH2O; times, s
/// (common practice, no source).
const BAG: (f64, f64, f64, f64) = (0.5, 12.0, 1.5, 2.5);

/// What hands have done. Plain data.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct World {
    /// Controls as set by the student; `None` where nobody touched them.
    pub controls: Controls,
    /// What the patient is on.
    pub on: On,
    /// Pressure in the cuff, cmH2O.
    pub cuff_cmh2o: f64,
    /// What hands are busy with, and until when.
    pub busy: Option<Busy>,
    /// When help that was called will have put the fault right, s.
    pub help_at_s: Option<f64>,
    /// When the fault was put right, s.
    pub mended_at_s: Option<f64>,
    /// Whether the surgeon has put a drain into the chest.
    pub drained: bool,
    /// What was done for patient and fresh gas.
    pub care: Care,
    /// What was done to the tube.
    pub tube: Handling,
    /// Whether the tube was drawn out.
    pub extubated: bool,
    /// The parts on the table, where the lesson has some.
    pub table: Option<Table>,
    /// What of the room was put right, and when, s.
    pub put_right: Vec<(Id, f64)>,
}

/// Controls of the ventilator that were changed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Controls {
    /// Fresh gas flow, L/min.
    pub fresh_gas_flow_l_min: Option<f64>,
    /// Cycling pressure, cmH2O.
    pub cycling_pressure_cmh2o: Option<f64>,
    /// Inspiratory time limit, s.
    pub inspiratory_time_limit_s: Option<f64>,
    /// Expiratory time, s.
    pub expiratory_time_s: Option<f64>,
    /// Ventilating or standby.
    pub mode: Option<Mode>,
}

/// What the patient is on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum On {
    /// The ventilator.
    #[default]
    Ventilator,
    /// Nothing: the tube is open to the room.
    Nothing,
    /// A separate bag with oxygen, in somebody's hands.
    Bag,
}

/// Work that keeps the patient off the ventilator for a while.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Busy {
    /// When it is done, s.
    pub until_s: f64,
    /// Whether the patient port is held shut; else it is open.
    pub port_shut: bool,
}

impl World {
    /// When something of the room was put right, s.
    #[must_use]
    pub fn put_right_s(&self, check: &Id) -> Option<f64> {
        self.put_right.iter().find(|(id, _)| id == check).map(|(_, at_s)| *at_s)
    }

    /// Turns a control; other acts leave the controls alone.
    pub(crate) fn set(&mut self, act: &Act) {
        let controls = &mut self.controls;
        match act {
            Act::FreshGasFlow(new) => controls.fresh_gas_flow_l_min = Some(new.l_min),
            Act::CyclingPressure(new) => controls.cycling_pressure_cmh2o = Some(new.cmh2o),
            Act::InspiratoryTimeLimit(new) => controls.inspiratory_time_limit_s = Some(new.s),
            Act::ExpiratoryTime(new) => controls.expiratory_time_s = Some(new.s),
            Act::Mode(mode) => controls.mode = Some(*mode),
            Act::InflateCuff(new) => self.cuff_cmh2o = new.cmh2o,
            Act::DeflateCuff => self.cuff_cmh2o = 0.0,
            Act::ChangeTube => self.cuff_cmh2o = FULL_CUFF_CMH2O,
            _ => {}
        }
    }

    /// The machine under these hands with this fault, as bad as it is now.
    pub(crate) fn setup(&self, base: &Setup, fault: Option<(Fault, f64)>, weight_kg: f64) -> Setup {
        let mut setup = base.clone();
        self.controls.turn(&mut setup.ventilator);
        match &self.table {
            Some(table) if self.on == On::Bag => setup = table.whole(&setup),
            Some(table) => setup = table.setup(&setup),
            None => {}
        }
        if self.on == On::Bag {
            let (flow, pressure, inspiration, expiration) = BAG;
            setup.ventilator.mode = setup::Mode::Ventilating;
            setup.ventilator.fresh_gas_flow = Flow::l_per_min(flow * weight_kg);
            setup.ventilator.cycling_pressure = Pressure::cmh2o(pressure);
            setup.ventilator.inspiratory_time_limit = Seconds::s(inspiration);
            setup.ventilator.expiratory_time = Seconds::s(expiration);
            setup.ventilator.end_expiratory_pressure = Pressure::ZERO;
            setup.circuit.leak = None;
        }
        for (made, severity) in self.tube.faults(self.cuff_cmh2o, FULL_CUFF_CMH2O) {
            setup = made.apply(&setup, severity);
        }
        match fault {
            Some((Fault::CuffLeak, severity)) if severity > 0.0 => {
                setup = Fault::CuffLeak.apply(&setup, 1.0 - self.cuff_cmh2o / FULL_CUFF_CMH2O);
            }
            // A bag of its own goes past circuit, ventilator and supply.
            Some((fault, severity)) if self.on != On::Bag || fault.is_of_the_patient() => {
                setup = fault.apply(&setup, severity);
            }
            _ => {}
        }
        if let Some(wall) = setup.lung.chest_wall.as_mut().filter(|_| self.drained) {
            wall.open_wound = Some(Resistance::cmh2o_s_per_l(DRAIN_CMH2O_S_L));
        }
        if self.on == On::Nothing || self.tube.dragged == Some(Dragged::Out) {
            setup.circuit.patient_port = PatientPort::Open;
        }
        if let Some(busy) = self.busy {
            setup.circuit.patient_port =
                if busy.port_shut { PatientPort::Blocked } else { PatientPort::Open };
        }
        setup
    }

    /// Lets a cuff lose what a leak of this severity leaves it.
    pub(crate) fn deflate(&mut self, severity: f64) {
        self.cuff_cmh2o = self.cuff_cmh2o.min(FULL_CUFF_CMH2O * (1.0 - severity));
    }
}

impl Controls {
    pub(crate) fn turn(&self, ventilator: &mut setup::Ventilator) {
        if let Some(flow) = self.fresh_gas_flow_l_min {
            ventilator.fresh_gas_flow = Flow::l_per_min(flow);
        }
        if let Some(pressure) = self.cycling_pressure_cmh2o {
            ventilator.cycling_pressure = Pressure::cmh2o(pressure);
        }
        if let Some(time) = self.inspiratory_time_limit_s {
            ventilator.inspiratory_time_limit = Seconds::s(time);
        }
        if let Some(time) = self.expiratory_time_s {
            ventilator.expiratory_time = Seconds::s(time);
        }
        match self.mode {
            Some(Mode::Ventilating) => ventilator.mode = setup::Mode::Ventilating,
            Some(Mode::Standby) => ventilator.mode = setup::Mode::Standby,
            None => {}
        }
    }
}

/// Whether what is left of a fault, once it is put right, must leave by a drain.
pub(crate) fn leaves_a_drain(fault: Fault) -> bool {
    matches!(fault, Fault::TensionPneumothorax | Fault::OpenPneumothorax)
}

/// How long a thumb shuts a port in standby that nobody is on: what lies behind the outlet
/// fills slowly, s (common practice, no source).
pub(crate) const HELD_LONGER_S: f64 = 20.0;

/// How long an act keeps the patient off the ventilator, s, and whether the port
/// is shut meanwhile (common practice, no source).
pub(crate) fn busy_for(act: &Act, held_longer: bool) -> Option<(f64, bool)> {
    match act {
        Act::OccludePort if held_longer => Some((HELD_LONGER_S, true)),
        Act::OccludePort => Some((6.0, true)),
        Act::Squeeze(thumb) => Some((2.0 + thumb.s, true)),
        Act::Suction => Some((8.0, false)),
        Act::ChangeTube => Some((20.0, false)),
        Act::ChangeLimb => Some((5.0, false)),
        Act::ChangeVentilator => Some((10.0, false)),
        Act::ChangeAdapter => Some((4.0, false)),
        _ => None,
    }
}
