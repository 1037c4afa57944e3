//! What a look, a hand or a gauge tells: read off the machine, in plain words.

mod bench;
mod morning;
mod patient;
mod tube;

use tidewright::fault::Fault;
use tidewright::machine::{Machine, Signal};
use tidewright::quantity::{Flow, Pressure, Seconds};
use tidewright::setup::{PatientPort, SensorPlace, Setup, Tube, Valve};
use tidewright::step::{Moment, step};
use tidewright_scenario::format::{Act, Case};

use crate::bedside::Bedside;
use crate::bedside::meter::Row;
use crate::case::draw::Drawn;
use crate::case::tube::Dragged;
use crate::case::world::On;
use crate::words::text::said;

/// Pressure of the leak test, cmH2O, and how long it is held, s.
const LEAK_TEST: (f64, f64) = (20.0, 5.0);

const LOOSE_LINE: &str = " A thin line hangs loose beside the ventilator.";

/// What is noticed at once when an act is done.
pub(crate) fn seen(session: &Bedside, act: &Act) -> Option<String> {
    let setup = session.machine().setup();
    let row = session.rows().last();
    let weight_kg = session.scenario().patient.weight_kg;
    Some(match act {
        Act::Look => look(session, setup, row, weight_kg),
        Act::Listen => listen(session, setup, row),
        Act::CheckGauge => match row {
            Some(row) => format!(
                "A second gauge at the patient connection: peak {} cmH2O, end of expiration {} cmH2O. \
                 The ventilator's own gauge: {} and {} cmH2O.",
                said(row.breath.peak_pressure.as_cmh2o()),
                said(row.breath.baseline_pressure.as_cmh2o()),
                said(row.shown_peak_cmh2o),
                said(row.shown_baseline_cmh2o)
            ),
            None => "No breath has been finished yet.".to_owned(),
        },
        Act::ReadHours => return bench::hours(session),
        Act::Join(_) | Act::Part(_) | Act::Trace | Act::Check(_) | Act::PutRight(_) => {
            return morning::seen(session, act);
        }
        Act::CheckSupply => {
            let set = session.set();
            // Hose and flush lie behind the flowmeter; a bag has gas of its own.
            let comes = match session.fault() {
                Some((fault @ (Fault::FreshGasFailing | Fault::CylinderEmptying), severity)) => {
                    let meter = Setup { ventilator: set, ..Setup::default() };
                    fault.apply(&meter, severity).ventilator.fresh_gas_flow
                }
                _ => set.fresh_gas_flow,
            };
            let left = format!("{}{}", contents(session), morning::supply(session));
            let oxygen = session.gas_numbers().map_or_else(String::new, |now| {
                format!(" The oxygen monitor shows {} %.", said(now.oxygen_percent))
            });
            format!(
                "The flowmeter is set to {} L/min; its float stands at {} L/min.{left}{oxygen}",
                said(set.fresh_gas_flow.as_l_per_min()),
                said(comes.as_l_per_min())
            )
        }
        Act::MeasureCuff => {
            format!("By its gauge the cuff holds {} cmH2O.", said(session.world().cuff_cmh2o))
        }
        Act::InflateCuff(to) => format!("The cuff now holds {} cmH2O by gauge.", said(to.cmh2o)),
        Act::CallSurgeon => "The veterinary surgeon is told and turns to you.".to_owned(),
        Act::HandVentilate => {
            "You ventilate by hand with a separate bag: small breaths, eyes on the chest. Where \
             air may fill the chest under tension, stop or give the least you can, and call."
                .to_owned()
        }
        Act::DeflateCuff => {
            "The cuff is let down: its gauge shows 0, and gas passes beside the tube, as would \
             fluid from the throat."
                .to_owned()
        }
        Act::WithdrawTube | Act::ChangeTube | Act::TurnPatient => {
            return tube::seen(session, act);
        }
        Act::Disconnect => {
            "The patient is off the ventilator, the tube open to the room.".to_owned()
        }
        Act::Extubate => "The cuff is let down and the tube drawn out, as the veterinary surgeon \
             directs. The patient breathes in the room: watch chest and gums."
            .to_owned(),
        Act::Reconnect => "The patient is on the ventilator.".to_owned(),
        _ => return patient::seen(session, act),
    })
}

/// What the gauge of the cylinder tells, where a lesson may let one run down: contents are
/// flow times the time that is left.
fn contents(session: &Bedside) -> String {
    let emptying = |case: &Case| {
        let mut stages = case.course.iter().map(|stage| stage.is.to_core().0);
        stages.any(|fault| fault == Fault::CylinderEmptying)
    };
    if !session.training().pool.iter().any(emptying) {
        return String::new();
    }
    let own = session.drawn().filter(|drawn| emptying(&drawn.case));
    let Some(drawn) = own.filter(|_| session.world().mended_at_s.is_none()) else {
        return " By its gauge the cylinder is full.".to_owned();
    };
    let left = Seconds::s((drawn.onset_s - session.now_s()).max(0.0));
    let left = session.set().fresh_gas_flow * left;
    format!(" By its gauge the cylinder holds {} L.", said(left.as_ml() / 1000.0))
}

/// What is known when an act that took time is done.
pub(crate) fn when_done(session: &Bedside) -> Option<String> {
    let last = session
        .acts()
        .iter()
        .rev()
        .find(|timed| crate::case::world::busy_for(&timed.act, false).is_some())?;
    match &last.act {
        Act::OccludePort => Some(occluded(session, last.at_s)),
        Act::Squeeze(thumb) => Some(bench::squeezed(session.machine().setup(), thumb)),
        Act::Suction => Some(match session.drawn().and_then(Drawn::first) {
            Some(
                Fault::KinkedTube
                | Fault::Mucus
                | Fault::FlapAgainstExpiration
                | Fault::FlapAgainstInspiration,
            ) if session.world().mended_at_s == Some(last.at_s) => {
                "The catheter brought up a plug; now it passes.".to_owned()
            }
            _ => "The catheter passed freely and brought up nothing.".to_owned(),
        }),
        Act::ChangeTube => Some(
            "Another tube is in, as the veterinary surgeon directs, its cuff filled by gauge. Listen \
             to both sides."
                .to_owned(),
        ),
        Act::ChangeAdapter => Some("The small adapter is on, and the patient with it.".to_owned()),
        _ => None,
    }
}

fn look(session: &Bedside, setup: &Setup, row: Option<&Row>, weight_kg: f64) -> String {
    let joint = match setup.circuit.patient_port {
        _ if session.world().tube.dragged == Some(Dragged::Out) => tube::OUT,
        _ if session.world().extubated => "The tube is out; the patient breathes in the room.",
        PatientPort::Open => "The tube is not on the T-piece.",
        PatientPort::Blocked => "The patient port is held shut.",
        PatientPort::Connected => "Tube and circuit are joined.",
    };
    let own = session.gas_breaths().last().filter(|breath| breath.own);
    let inspired = own.map(|own| own.inspired);
    let inspired = inspired.or(row.map(|row| row.breath.inspired_tidal_volume));
    let Some(inspired) = inspired else { return joint.to_owned() };
    let per_kg = inspired.as_ml() / weight_kg;
    let chest = match per_kg {
        v if v < 1.0 => "The chest does not move.",
        v if v < 6.0 => "The chest moves little.",
        v if v <= 15.0 => "The chest rises and falls.",
        _ => "The chest rises far.",
    };
    let besides = match session.fault().map(|(fault, _)| fault) {
        Some(Fault::SenseLineOff) => LOOSE_LINE,
        Some(Fault::FreshGasHoseOff) => " The fresh gas hose lies beside the T-piece.",
        Some(Fault::LimbDisconnected) => " The expiratory limb hangs loose beside the valve.",
        Some(Fault::WaterInLimb) => " Water stands in the lowest loop of the limb.",
        Some(Fault::CompressedChest) => " Something leans on the chest.",
        Some(Fault::CompressedAbdomen) => " The abdomen is round and tense.",
        Some(Fault::OpenPneumothorax) => " There is a wound in the chest.",
        Some(Fault::OwnBreaths) => " The chest rises between the ventilator's breaths, too.",
        Some(Fault::Coughing) => " The body jerks now and then.",
        Some(Fault::Bracing) => " The chest is held tight now and then.",
        None if matches!(setup.circuit.sensor.place, SensorPlace::Cut(_)) => LOOSE_LINE,
        _ => "",
    };
    format!("{joint} {chest}{besides}{}{}", tube::look(session), patient::look(session))
}

fn listen(session: &Bedside, setup: &Setup, row: Option<&Row>) -> String {
    let mut heard = Vec::new();
    let lung = &setup.lung;
    let in_place = session.world().tube.dragged != Some(Dragged::Out);
    let own = session.gas_breaths().last().filter(|breath| breath.own);
    let inspired = own.map(|own| own.inspired);
    let inspired = inspired.or(row.map(|row| row.breath.inspired_tidal_volume));
    let flows = in_place && inspired.is_some_and(|inspired| inspired.as_ml() > 0.0);
    let fault = session.fault().map(|(fault, _)| fault);
    let one_side = matches!(
        fault,
        Some(
            Fault::OneLungIntubation
                | Fault::ClosedPneumothorax
                | Fault::TensionPneumothorax
                | Fault::OpenPneumothorax
        )
    );
    heard.push(match (flows && lung.tube != Tube::Shut, one_side) {
        (false, _) => "No breath sounds.",
        (true, true) => "Breath sounds on one side only.",
        (true, false) => "Breath sounds on both sides.",
    });
    match fault {
        Some(Fault::Bronchospasm) => heard.push("A long wheeze as gas flows out."),
        Some(Fault::Mucus) => heard.push("Crackles over the airways."),
        Some(Fault::WaterInLimb) => heard.push("Bubbles in the expiratory limb."),
        _ => {}
    }
    if row.is_some_and(|row| row.breath.leaked.as_ml() > 1.0) {
        if lung.cuff.is_some() {
            heard.push("A gurgle at the mouth.");
        } else if setup.circuit.leak.is_some() {
            heard.push("A hiss at a joint of the circuit.");
        }
    }
    heard.join(" ")
}

fn occluded(session: &Bedside, from_s: f64) -> String {
    if session.world().on == On::Nothing {
        return bench::occluded(session.machine().setup()) + &held(session);
    }
    let rows = session.rows().iter().filter(|row| row.breath.start.as_s() >= from_s);
    let (mut peak, mut lowest) = (session.shown_so_far_cmh2o(), f64::INFINITY);
    for row in rows {
        peak = peak.max(row.shown_peak_cmh2o);
        lowest = lowest.min(row.shown_baseline_cmh2o);
    }
    let falls = if lowest.is_finite() {
        format!(" and fell back to {} cmH2O", said(lowest))
    } else {
        String::new()
    };
    let live =
        format!("With the port shut the gauge rose to {} cmH2O{falls}.", said(peak.max(0.0)));
    live + &held(session)
}

/// What the leak test tells, where the circuit alone can be filled.
fn held(session: &Bedside) -> String {
    let (pressure, hold_s) = LEAK_TEST;
    match leak_test(session.machine().setup()) {
        Some(left) if session.world().on != On::Bag => format!(
            " Filled to {pressure} cmH2O with the flow off, it held {} cmH2O after {hold_s} s.",
            said(left)
        ),
        _ => String::new(),
    }
}

/// Pressure left in the circuit alone after the leak test, cmH2O; `None` where
/// it cannot be filled.
fn leak_test(setup: &Setup) -> Option<f64> {
    let (pressure, hold_s) = LEAK_TEST;
    if setup.circuit.valve == Valve::StuckOpen || setup.circuit.compliance.as_ml_per_cmh2o() == 0.0
    {
        return None;
    }
    let mut test = setup.clone();
    test.circuit.patient_port = PatientPort::Blocked;
    test.circuit.sensor.place = SensorPlace::Cut(Pressure::ZERO);
    test.circuit.sensor.offset = Pressure::ZERO;
    test.ventilator.fresh_gas_flow = Flow::ZERO;
    // The run begins with all gas at the end-expiratory pressure.
    test.ventilator.end_expiratory_pressure = Pressure::cmh2o(pressure);
    test.ventilator.cycling_pressure = Pressure::cmh2o(2.0 * pressure);
    test.ventilator.inspiratory_time_limit = Seconds::s(2.0 * hold_s);
    test.ventilator.mode = tidewright::setup::Mode::Ventilating;
    let machine = Machine::new(test).ok()?;
    let mut moment = Moment::at_rest(&machine);
    let mut left = pressure;
    while moment.at_s < hold_s {
        let done = step(&machine, &moment, hold_s - moment.at_s).ok()?;
        left = done.piece.last(Signal::AirwayPressure);
        moment = done.next;
    }
    Some(left)
}
