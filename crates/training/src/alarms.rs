//! Alarms: what the student set limits for, and which of them sound.

use serde::Serialize;
use tidewright_scenario::format::{Act, Alarmed, Monitor};

use crate::bedside::Bedside;
use crate::words::command::ALARMS;
use crate::words::text::said;

/// An alarm with its limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Alarm {
    /// What it watches, as it is typed.
    pub name: &'static str,
    /// Its limit in words: `above 20 cmH2O`.
    pub limit: String,
    /// What it found, where it sounds.
    pub sounds: Option<String>,
}

impl Alarm {
    /// The alarm in words.
    #[must_use]
    pub fn in_words(&self) -> String {
        match &self.sounds {
            Some(found) => format!("ALARM: {} {found}, limit {}", self.name, self.limit),
            None => format!("{} {}", self.name, self.limit),
        }
    }
}

/// Whether the monitor of a session shows what an alarm is to watch.
pub(crate) fn shows(session: &Bedside, of: Alarmed) -> bool {
    let monitor = session.training().monitor;
    match of {
        Alarmed::PeakPressure | Alarmed::NoBreath => true,
        Alarmed::TidalVolume => monitor == Monitor::Full,
        Alarmed::EndTidalCarbonDioxide => session.gas().is_some(),
        Alarmed::Saturation => session.gas().is_some() && monitor != Monitor::Gauge,
    }
}

/// Every alarm that is set, in the order of [`ALARMS`].
#[must_use]
pub fn alarms(session: &Bedside) -> Vec<Alarm> {
    let set = |of: Alarmed| {
        session.acts().iter().rev().find_map(|timed| match &timed.act {
            Act::SetAlarm(limit) if limit.of == of => Some(limit.at),
            _ => None,
        })?
    };
    let alarm = |&(of, name, unit, above): &(Alarmed, &'static str, &'static str, bool)| {
        let limit = set(of)?;
        let found = now(session, of);
        let beyond = |value: &f64| if above { *value > limit } else { *value < limit };
        Some(Alarm {
            name,
            limit: format!("{} {} {unit}", if above { "above" } else { "below" }, said(limit)),
            sounds: found.filter(beyond).map(|value| format!("{} {unit}", said(value))),
        })
    };
    ALARMS.iter().filter_map(alarm).collect()
}

/// What an alarm watches as it is now, as the monitor shows it; nothing before there is
/// anything to show.
fn now(session: &Bedside, of: Alarmed) -> Option<f64> {
    let row = session.rows().last();
    match of {
        Alarmed::PeakPressure => {
            let under_way = session.shown_so_far_cmh2o();
            let last = row.map(|row| row.shown_peak_cmh2o);
            last.into_iter().chain(under_way.is_finite().then_some(under_way)).reduce(f64::max)
        }
        Alarmed::NoBreath => {
            let own = session.gas_breaths().iter().rev().find(|breath| breath.own);
            let own_s = own.map(|breath| (breath.start + breath.duration).as_s());
            let last_s = row.map(|row| row.end_s).into_iter().chain(own_s).fold(0.0, f64::max);
            Some(session.now_s() - last_s)
        }
        Alarmed::TidalVolume => row.map(|row| row.shown_expired_ml),
        Alarmed::EndTidalCarbonDioxide => {
            let drawn = session.drawn_share(session.now_s());
            let breath = session.gas_breaths().last()?;
            Some(drawn * breath.end_tidal_carbon_dioxide.as_mmhg())
        }
        Alarmed::Saturation => session.vitals_now()?.oximeter().map(|share| 100.0 * share),
    }
}
