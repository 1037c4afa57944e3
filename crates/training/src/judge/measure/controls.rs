//! What was turned, how often and how far.

use tidewright_scenario::format::{Act, ActName, TimedAct};

use crate::session::Session;

/// Changes of controls.
pub(super) fn controls(session: &Session) -> impl Iterator<Item = &TimedAct> {
    session.acts().iter().filter(|timed| timed.act.name().is_control())
}

/// How often more than two different controls were changed within one breath.
pub(super) fn shotgun_changes(session: &Session) -> usize {
    let changes: Vec<&TimedAct> = controls(session).collect();
    let mut times = 0;
    let mut first = 0;
    while first < changes.len() {
        let from_s = changes[first].at_s;
        let breath = session.rows().iter().find(|row| row.end_s > from_s);
        let until_s = from_s
            + breath.map_or(5.0, |row| {
                (row.breath.inspiratory_time + row.breath.expiratory_time).as_s()
            });
        let within: Vec<&&TimedAct> =
            changes[first..].iter().take_while(|timed| timed.at_s <= until_s).collect();
        let mut names: Vec<ActName> = Vec::new();
        for timed in &within {
            if !names.contains(&timed.act.name()) {
                names.push(timed.act.name());
            }
        }
        if names.len() > 2 {
            times += 1;
            first += within.len();
        } else {
            first += 1;
        }
    }
    times
}

/// How long after the onset the cycling pressure was first raised, s.
pub(super) fn raised(session: &Session, onset_s: f64) -> Option<f64> {
    let mut set = session.scenario().ventilator.cycling_pressure_cmh2o;
    session.acts().iter().find_map(|timed| match &timed.act {
        Act::CyclingPressure(new) => {
            let higher = new.cmh2o > set && timed.at_s >= onset_s;
            set = new.cmh2o;
            higher.then_some(timed.at_s - onset_s)
        }
        _ => None,
    })
}

/// The largest change of a control at once, % of what it was.
pub(super) fn largest_step_percent(session: &Session, of: ActName) -> f64 {
    let set = &session.scenario().ventilator;
    let mut before = match of {
        ActName::FreshGasFlow => set.fresh_gas_flow_l_min,
        ActName::CyclingPressure => set.cycling_pressure_cmh2o,
        ActName::InspiratoryTimeLimit => set.inspiratory_time_limit_s,
        ActName::ExpiratoryTime => set.expiratory_time_s,
        _ => return 0.0,
    };
    let mut largest: f64 = 0.0;
    for timed in session.acts().iter().filter(|timed| timed.act.name() == of) {
        let new = match &timed.act {
            Act::FreshGasFlow(new) => new.l_min,
            Act::CyclingPressure(new) => new.cmh2o,
            Act::InspiratoryTimeLimit(new) => new.s,
            Act::ExpiratoryTime(new) => new.s,
            _ => continue,
        };
        if before > 0.0 {
            largest = largest.max(100.0 * (new / before - 1.0).abs());
        }
        before = new;
    }
    largest
}
