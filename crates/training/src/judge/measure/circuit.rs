//! What a circuit that was joined on the table does.

use tidewright::assembly::{Assembly, Part};
use tidewright::exchange::FreshGasInlet;
use tidewright::machine::Signal;
use tidewright::quantity::{Compliance, Pressure, Resistance, Seconds};
use tidewright::run::{Protocol, Simulation};
use tidewright::setup::{Effort, Lung, Mode, SensorPlace, Setup, Tube};
use tidewright_scenario::format::CircuitLimits;

use super::Verdict;
use crate::session::Session;
use crate::words::text::said;

/// Pressure at which a leak is stated, cmH2O, and time in standby after which the pressure
/// is read, s.
const LEAK_AT_CMH2O: f64 = 30.0;
const STANDBY_S: f64 = 60.0;

/// What is not as it must be, and whether anything is not.
pub(super) fn circuit(session: &Session, limits: &CircuitLimits) -> Verdict {
    let wanted = format!(
        "fresh gas and sensing near the patient, a limb to the ventilator; dead space at most {} mL, \
         leak at most {} mL/min at 30 cmH2O, in standby at most {} cmH2O",
        said(limits.dead_space_at_most_ml),
        said(limits.leak_at_most_ml_min),
        said(limits.standby_at_most_cmh2o)
    );
    let Some(table) = &session.world().table else {
        return Verdict { met: false, found: "no parts".to_owned(), wanted };
    };
    let mut base = session.base().clone();
    base.ventilator = session.set();
    let wrong = match wrongs(table.judged(), &base, limits) {
        Ok(wrong) => wrong,
        Err(why) => vec![why],
    };
    let found = if wrong.is_empty() { "all of it".to_owned() } else { wrong.join("; ") };
    Verdict { met: wrong.is_empty(), found, wanted }
}

fn wrongs(parts: &Assembly, base: &Setup, limits: &CircuitLimits) -> Result<Vec<String>, String> {
    // A lung without a tube of its own tells what the parts before it resist.
    let lung = Lung::single(Compliance::ml_per_cmh2o(10.0), Resistance::cmh2o_s_per_l(1.0));
    let base = Setup { lung, effort: Effort::none(), ..base.clone() };
    let line = parts.line().map_err(|error| error.to_string())?;
    let made = parts.assemble(&base).map_err(|error| error.to_string())?;
    let (circuit, gas) = (&made.setup.circuit, made.apparatus);
    let mut wrong = Vec::new();
    let mut must = |is: bool, told: &dyn Fn() -> String| {
        if !is {
            wrong.push(told());
        }
    };
    must(line.through_ventilator, &|| "the limb does not lead to the ventilator".to_owned());
    let end = &parts.pieces()[line.patient_end.part].part;
    let plugged = matches!(end, Part::Plug | Part::Thumb);
    must(!plugged, &|| "the patient's port is shut".to_owned());
    let near = circuit.inlet == FreshGasInlet::Patient && parts.brings_gas(line.t_piece.part);
    must(near, &|| "no fresh gas comes in near the patient".to_owned());
    let senses =
        circuit.sensor.place == SensorPlace::PatientConnection && circuit.sensor.share == 1.0;
    must(senses, &|| "pressure is not sensed at the patient".to_owned());
    let mut most = |what: &str, found: f64, most: f64, unit: &str| {
        must(found <= most, &|| format!("{what} {} {unit}", said(found)));
    };
    most("dead space", gas.adapter_ml, limits.dead_space_at_most_ml, "mL");
    let leak = circuit
        .leak
        .map_or(0.0, |leak| leak.flow_at(Pressure::cmh2o(LEAK_AT_CMH2O)).as_ml_s() * 60.0);
    most("leak", leak, limits.leak_at_most_ml_min, "mL/min at 30 cmH2O");
    let limb = circuit.limb.map_or(Compliance::ZERO, |limb| limb.compliance);
    let gives = (circuit.compliance + limb).as_ml_per_cmh2o();
    most("tubing that gives", gives, limits.compliance_at_most_ml_cmh2o, "mL/cmH2O");
    let resists = match made.setup.lung.tube {
        Tube::Linear(before) => before.as_cmh2o_s_per_l(),
        _ => 0.0,
    };
    let at_most = limits.resistance_at_most_cmh2o_s_l;
    most("resistance before the patient", resists, at_most, "cmH2O·s/L");
    let store_ml = gas.limb_ml + gas.bag_ml;
    must(store_ml >= limits.store_at_least_ml, &|| {
        format!("limb and bag hold {} mL", said(store_ml))
    });
    let standby = standby_cmh2o(made.setup).ok_or("in standby the run stops")?;
    must(standby.abs() <= limits.standby_at_most_cmh2o, &|| {
        format!("in standby {} cmH2O", said(standby))
    });
    Ok(wrong)
}

/// Pressure at the T-piece after a while in standby, cmH2O.
fn standby_cmh2o(mut setup: Setup) -> Option<f64> {
    setup.ventilator.mode = Mode::Standby;
    let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(STANDBY_S) };
    let run = Simulation::new(&protocol).ok()?;
    let last = run.steps().last()?.ok()?;
    Some(last.piece.last(Signal::AirwayPressure))
}
