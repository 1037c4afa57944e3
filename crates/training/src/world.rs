//! What hands have done and what is wrong, and the machine that follows from both.

use tidewright::quantity::{Compliance, Flow, Pressure, Resistance, Seconds};
use tidewright::setup::{
    self, Cuff, Effort, Leak, LeakLaw, PatientPort, SensorPlace, Setup, Tube, Valve,
};
use tidewright_scenario::format::{self, Act, HiddenFault, Mode};

/// Cuff pressure that seals, cmH2O (common practice: 20 to 30).
pub(crate) const SEALING_CUFF_CMH2O: f64 = 20.0;
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
            _ => {}
        }
    }

    /// The machine under these hands with this fault.
    pub(crate) fn setup(&self, base: &Setup, fault: Option<&HiddenFault>, weight_kg: f64) -> Setup {
        let mut setup = base.clone();
        self.controls.turn(&mut setup.ventilator);
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
        if let Some(fault) = fault {
            if self.on != On::Bag {
                in_the_circuit(fault, &mut setup);
            }
            in_the_patient(fault, self.cuff_cmh2o, &mut setup);
        }
        if self.on == On::Nothing {
            setup.circuit.patient_port = PatientPort::Open;
        }
        if let Some(busy) = self.busy {
            setup.circuit.patient_port =
                if busy.port_shut { PatientPort::Blocked } else { PatientPort::Open };
        }
        setup
    }
}

impl Controls {
    fn turn(&self, ventilator: &mut setup::Ventilator) {
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

/// Faults of circuit, ventilator and supply: a bag of its own goes past them.
fn in_the_circuit(fault: &HiddenFault, setup: &mut Setup) {
    let circuit = &mut setup.circuit;
    match fault {
        HiddenFault::CircuitLeak(leak) => {
            circuit.leak = Some(Leak {
                flow: Flow::ml_s(leak.ml_min / 60.0),
                at: Pressure::cmh2o(leak.at_cmh2o),
                law: match leak.law {
                    format::LeakLaw::Linear => LeakLaw::Linear,
                    format::LeakLaw::Orifice => LeakLaw::Orifice,
                },
            });
        }
        HiddenFault::Disconnected => circuit.patient_port = PatientPort::Open,
        HiddenFault::ValveStuckOpen => circuit.valve = Valve::StuckOpen,
        HiddenFault::ValveStuckShut => circuit.valve = Valve::StuckShut,
        HiddenFault::LimbObstructed(limb) => {
            circuit.valve_resistance = Resistance::cmh2o_s_per_l(limb.cmh2o_s_l);
        }
        HiddenFault::SupplyFails(share) => {
            let flow = setup.ventilator.fresh_gas_flow;
            setup.ventilator.fresh_gas_flow = flow * (share.percent / 100.0);
        }
        HiddenFault::GaugeReadsHigh(offset) => {
            circuit.sensor.offset = circuit.sensor.offset + Pressure::cmh2o(offset.cmh2o);
        }
        HiddenFault::SenseLineOff => circuit.sensor.place = SensorPlace::Cut(Pressure::ZERO),
        _ => {}
    }
}

/// Faults of patient, tube and cuff.
fn in_the_patient(fault: &HiddenFault, cuff_cmh2o: f64, setup: &mut Setup) {
    let lung = &mut setup.lung;
    match fault {
        HiddenFault::CuffLeak(leak) => {
            lung.cuff = Some(Cuff {
                seals_to: Pressure::cmh2o(cuff_cmh2o),
                conductance_ml_s_cmh2o: leak.ml_s_cmh2o,
            });
        }
        HiddenFault::TubeBlocked => lung.tube = Tube::Shut,
        HiddenFault::TubeNarrowed(times) => resist(lung, times.times, None),
        HiddenFault::Bronchospasm(spasm) => {
            resist(lung, spasm.inward_times, Some(spasm.outward_times));
        }
        HiddenFault::Compressed(times)
        | HiddenFault::Insufflation(times)
        | HiddenFault::Pneumothorax(times) => {
            stiffen(lung, times.times);
        }
        // Of several compartments the tube reaches all but the last.
        HiddenFault::OneLung if lung.compartments.len() > 1 => {
            if let Some(last) = lung.compartments.last_mut() {
                last.shut = true;
            }
        }
        HiddenFault::OneLung => stiffen(lung, 0.5),
        HiddenFault::Effort(breaths) => {
            setup.effort = Effort::breaths(
                Pressure::cmh2o(breaths.cmh2o),
                Seconds::s(breaths.lasts_s),
                Seconds::s(breaths.every_s),
            );
        }
        HiddenFault::Bracing(braced) => {
            setup.effort = Effort::bracing(Pressure::cmh2o(braced.cmh2o))
        }
        _ => {}
    }
}

fn resist(lung: &mut setup::Lung, inward: f64, outward: Option<f64>) {
    for part in &mut lung.compartments {
        let healthy = part.resistance.as_cmh2o_s_per_l();
        part.resistance = Resistance::cmh2o_s_per_l(healthy * inward);
        part.expiratory_resistance =
            outward.map(|outward| Resistance::cmh2o_s_per_l(healthy * outward));
    }
}

fn stiffen(lung: &mut setup::Lung, times: f64) {
    for part in &mut lung.compartments {
        part.compliance = Compliance::ml_per_cmh2o(part.compliance.as_ml_per_cmh2o() * times);
    }
}

/// What puts a fault right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Mends {
    /// Not this act.
    No,
    /// This act, when it is done.
    Yes,
    /// The surgeon, who needs a while.
    Surgeon,
}

/// Whether an act puts a fault right.
pub(crate) fn mends(fault: &HiddenFault, act: &Act) -> Mends {
    use HiddenFault as F;
    let yes = match fault {
        F::CircuitLeak(_) | F::Disconnected => matches!(act, Act::ReseatJoint),
        F::SenseLineOff => matches!(act, Act::ReseatJoint | Act::ChangeVentilator),
        F::CuffLeak(_) => match act {
            Act::InflateCuff(to) => to.cmh2o >= SEALING_CUFF_CMH2O,
            Act::ChangeTube => true,
            _ => false,
        },
        F::TubeBlocked | F::TubeNarrowed(_) => matches!(act, Act::Suction | Act::ChangeTube),
        F::OneLung => matches!(act, Act::WithdrawTube | Act::ChangeTube),
        F::LimbObstructed(_) => matches!(act, Act::ChangeLimb),
        F::ValveStuckOpen | F::ValveStuckShut | F::GaugeReadsHigh(_) => {
            matches!(act, Act::ChangeVentilator)
        }
        F::SupplyFails(_) => matches!(act, Act::SwapCylinder),
        F::Insufflation(_) => false,
        F::Compressed(_)
        | F::Pneumothorax(_)
        | F::Bronchospasm(_)
        | F::Effort(_)
        | F::Bracing(_) => {
            return if matches!(act, Act::CallSurgeon) { Mends::Surgeon } else { Mends::No };
        }
    };
    if yes { Mends::Yes } else { Mends::No }
}

/// How long an act keeps the patient off the ventilator, s, and whether the port
/// is shut meanwhile (common practice, no source).
pub(crate) fn busy_for(act: &Act) -> Option<(f64, bool)> {
    match act {
        Act::OccludePort => Some((6.0, true)),
        Act::Suction => Some((8.0, false)),
        Act::ChangeTube => Some((20.0, false)),
        Act::ChangeLimb => Some((5.0, false)),
        Act::ChangeVentilator => Some((10.0, false)),
        _ => None,
    }
}
