//! What may be seen at the lesson's monitor level.

use tidewright::breath::EndedBy;
use tidewright::machine::Signal;
use tidewright_scenario::format::{ActName, Monitor};

use crate::session::{Session, SessionError};
use crate::text::said;

/// A number on the monitor.
#[derive(Clone, Debug, PartialEq)]
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

/// The numbers that a monitor level shows now.
///
/// # Errors
/// [`SessionError`]: a run that cannot go on.
pub fn numbers(session: &Session) -> Result<Vec<Shown>, SessionError> {
    let row = session.rows().last();
    let number = |name, unit, value: Option<f64>| Shown {
        name,
        value: value.map_or_else(|| "–".to_owned(), said),
        unit,
    };
    let now = session.gauge_cmh2o()?;
    let mut shown = vec![number("gauge now", "cmH2O", Some(now))];
    shown.push(number("peak", "cmH2O", row.map(|row| row.shown_peak_cmh2o)));
    shown.push(number("baseline", "cmH2O", row.map(|row| row.shown_baseline_cmh2o)));
    let monitor = session.training().monitor;
    if monitor != Monitor::Gauge {
        let breath = row.map(|row| row.breath);
        let by = breath.map_or("–", |breath| match breath.ended_by {
            EndedBy::Pressure => "pressure",
            EndedBy::Time => "time limit",
            EndedBy::Standby => "standby",
        });
        shown.push(Shown { name: "ended by", value: by.to_owned(), unit: "" });
        let time = breath.map(|breath| breath.inspiratory_time.as_s());
        shown.push(number("inspiratory time", "s", time));
        shown.push(number("rate", "/min", breath.map(|breath| breath.rate_per_min())));
        if monitor == Monitor::Full {
            let inspired = row.map(|row| row.shown_inspired_ml);
            shown.push(number("tidal volume in", "mL", inspired));
            let expired = row.map(|row| row.shown_expired_ml);
            shown.push(number("tidal volume out", "mL", expired));
        }
    }
    Ok(shown)
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
