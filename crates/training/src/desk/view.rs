//! What may be seen at the lesson's monitor level.

use serde::Serialize;
use tidewright::breath::EndedBy;
use tidewright::exchange::GasBreath;
use tidewright::machine::Signal;
use tidewright::setup::Mode;
use tidewright_scenario::format::{ActName, Monitor};

use crate::case::world::On;
use crate::session::{Session, SessionError};
use crate::words::text::said;

/// A number on the monitor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Shown {
    /// What it is.
    pub name: &'static str,
    /// The number or word; `–` before the first breath.
    pub value: String,
    /// Its unit.
    pub unit: &'static str,
}

/// The curves that a monitor level shows.
#[must_use]
pub fn curves(monitor: Monitor) -> &'static [(Signal, &'static str)] {
    const ALL: [(Signal, &str); 3] = [
        (Signal::SensedPressure, "pressure cmH2O"),
        (Signal::AirwayFlow, "flow mL/s"),
        (Signal::LungVolume, "volume mL"),
    ];
    match monitor {
        Monitor::Full => &ALL,
        Monitor::NoSpirometry => &ALL[..1],
        Monitor::Gauge => &[],
    }
}

/// Whether the lesson's monitor shows a capnogram.
#[must_use]
pub fn has_capnogram(session: &Session) -> bool {
    session.saturation().is_some()
}

/// The numbers that a monitor level shows now.
///
/// # Errors
/// [`SessionError`]: a run that cannot go on.
pub fn numbers(session: &Session) -> Result<Vec<Shown>, SessionError> {
    // In standby what the ventilator's last breath was no longer counts.
    let own = own_breath(session);
    let row = session.rows().last().filter(|_| own.is_none());
    let number = |name, unit, value: Option<f64>| Shown {
        name,
        value: value.map_or_else(|| "–".to_owned(), said),
        unit,
    };
    let now = session.gauge_cmh2o()?;
    let mut shown: Vec<Shown> = hands(session).into_iter().collect();
    shown.push(number("gauge now", "cmH2O", Some(now)));
    shown.push(number("peak", "cmH2O", row.map(|row| row.shown_peak_cmh2o)));
    shown.push(number("baseline", "cmH2O", row.map(|row| row.shown_baseline_cmh2o)));
    let monitor = session.training().monitor;
    if monitor != Monitor::Gauge {
        let breath = row.map(|row| row.breath);
        let by = match breath.map(|breath| breath.ended_by) {
            Some(EndedBy::Pressure) => "pressure",
            Some(EndedBy::Time) => "time limit",
            Some(EndedBy::Standby) => "standby",
            None if own.is_some() => "standby",
            None => "–",
        };
        shown.push(Shown { name: "ended by", value: by.to_owned(), unit: "" });
        let time = breath.map(|breath| breath.inspiratory_time.as_s());
        shown.push(number("inspiratory time", "s", time));
        let own_rate = own.map(|own| 60.0 / own.duration.as_s());
        let rate = own_rate.or(breath.map(|breath| breath.rate_per_min()));
        shown.push(number("rate", "/min", rate));
        if monitor == Monitor::Full {
            // A breath that began at some pressure and lost its patient brings less than none.
            let inspired = row.map(|row| row.shown_inspired_ml.max(0.0));
            let inspired = inspired.or(own.map(|own| own.inspired.as_ml()));
            shown.push(number("tidal volume in", "mL", inspired));
            let expired = row.map(|row| row.shown_expired_ml.max(0.0));
            let expired = expired.or(own.map(|own| own.expired.as_ml()));
            shown.push(number("tidal volume out", "mL", expired));
        }
    }
    if has_capnogram(session) {
        gas(session, &mut shown);
    }
    Ok(shown)
}

/// What the patient is on, where that is not the ventilator: nobody may take the breaths
/// of a hand for those of the machine.
fn hands(session: &Session) -> Option<Shown> {
    let value = match session.world().on {
        On::Ventilator => return None,
        On::Bag => "squeezed, by hand",
        On::Nothing => "off the circuit",
    };
    let name = if session.world().on == On::Bag { "bag" } else { "patient" };
    Some(Shown { name, value: value.to_owned(), unit: "" })
}

/// The last breath, where the patient took it by itself in standby.
fn own_breath(session: &Session) -> Option<&GasBreath> {
    let stands_by = session.machine().setup().ventilator.mode == Mode::Standby;
    session.gas_breaths().last().filter(|breath| breath.own && stands_by)
}

/// What monitors of carbon dioxide and oxygen show.
fn gas(session: &Session, shown: &mut Vec<Shown>) {
    let whole = |name, unit, value: Option<f64>| Shown {
        name,
        value: value.map_or_else(|| "–".to_owned(), |value| format!("{value:.0}")),
        unit,
    };
    let breath = session.gas_breaths().last();
    let drawn = session.drawn_share(session.now_s());
    let end_tidal = breath.map(|breath| drawn * breath.end_tidal_carbon_dioxide.as_mmhg());
    let inspired = breath.map(|breath| drawn * breath.inspired_carbon_dioxide.as_mmhg());
    shown.push(whole("EtCO2", "mmHg", end_tidal));
    shown.push(whole("inspired CO2", "mmHg", inspired));
    let monitor = session.training().monitor;
    if monitor == Monitor::Gauge {
        return;
    }
    let vitals = session.vitals_now();
    let oximeter = vitals.and_then(|now| now.oximeter());
    shown.push(Shown {
        value: oximeter
            .map_or_else(|| "no reading".to_owned(), |share| format!("{:.0}", 100.0 * share)),
        ..whole("SpO2", "%", None)
    });
    shown.push(whole("heart rate", "/min", vitals.map(|now| now.pulse.rate_per_min)));
    shown.push(whole("mean arterial pressure", "mmHg", vitals.map(|now| now.pulse.arterial_mmhg)));
    if session.gas_numbers().is_some_and(|now| now.depth.is_some()) {
        shown.push(whole("own breaths", "/min", session.own_breaths_per_min()));
    }
}

/// The controls as they stand, for those that the lesson offers.
#[must_use]
pub fn controls(session: &Session) -> Vec<Shown> {
    let set = session.set();
    let all = [
        (ActName::FreshGasFlow, "flow", set.fresh_gas_flow.as_l_per_min(), "L/min"),
        (ActName::CyclingPressure, "pressure", set.cycling_pressure.as_cmh2o(), "cmH2O"),
        (ActName::InspiratoryTimeLimit, "limit", set.inspiratory_time_limit.as_s(), "s"),
        (ActName::ExpiratoryTime, "expiration", set.expiratory_time.as_s(), "s"),
    ];
    let offers = &session.training().offers;
    let offered = all.into_iter().filter(|(name, ..)| offers.contains(name));
    offered.map(|(_, name, value, unit)| Shown { name, value: said(value), unit }).collect()
}
