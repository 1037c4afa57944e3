//! Limits of alarms that a student sets.

use tidewright_scenario::format::{Act, AlarmRange, Alarmed};

use super::Verdict;
use crate::session::Session;
use crate::words::command::ALARMS;
use crate::words::text::said;

/// Whether an alarm had a limit within a range from some time on, to the end.
pub(super) fn alarm_set(session: &Session, range: &AlarmRange, onset_s: f64) -> Verdict {
    let (name, unit) = name(range.of);
    let mut since_s = None;
    let mut found = format!("alarm {name} never set");
    for timed in session.acts() {
        let Act::SetAlarm(limit) = &timed.act else { continue };
        if limit.of != range.of {
            continue;
        }
        let fits = limit.at.is_some_and(|at| (range.at_least..=range.at_most).contains(&at));
        since_s = if fits { since_s.or(Some(timed.at_s)) } else { None };
        let limit = limit.at.map_or_else(|| "off".to_owned(), |at| format!("{} {unit}", said(at)));
        found = format!("{limit}, set {} s after the onset", said(timed.at_s - onset_s));
    }
    Verdict {
        met: since_s.is_some_and(|at_s| at_s <= onset_s + range.within_s),
        found,
        wanted: format!(
            "{} to {} {unit}, from {} s after the onset at the latest",
            said(range.at_least),
            said(range.at_most),
            said(range.within_s)
        ),
    }
}

/// An alarm as it is typed, and its unit.
pub(super) fn name(of: Alarmed) -> (&'static str, &'static str) {
    let known = ALARMS.iter().find(|(one, ..)| *one == of);
    known.map_or(("", ""), |(_, name, unit, _)| (*name, *unit))
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::words::command::parse;

    #[test]
    fn a_limit_counts_from_when_it_was_set_until_another_takes_its_place() {
        let text =
            include_str!("../../../../../scenarios/training/biscuit-settings-from-weight.ron");
        let scenario = Arc::new(tidewright_scenario::parse("a.ron", text).expect("a lesson"));
        let range =
            AlarmRange { of: Alarmed::NoBreath, at_least: 6.0, at_most: 20.0, within_s: 60.0 };
        let met = |acts: &[(f64, &str)]| {
            let mut session = Session::new(Arc::clone(&scenario), 1).expect("a session");
            for (at_s, typed) in acts {
                session.play(*at_s).expect("time");
                session.act(parse(typed).expect("an act")).expect("open");
            }
            alarm_set(&session, &range, 0.0).met
        };
        assert!(!met(&[]) && !met(&[(5.0, "alarm peak 12")]) && !met(&[(5.0, "alarm breath 40")]));
        assert!(
            met(&[(5.0, "alarm breath 12")])
                && met(&[(5.0, "alarm breath 12"), (70.0, "alarm breath 15")])
        );
        assert!(!met(&[(70.0, "alarm breath 12")]));
        assert!(!met(&[(5.0, "alarm breath 12"), (9.0, "alarm breath off")]));
        assert!(!met(&[
            (5.0, "alarm breath 12"),
            (65.0, "alarm breath off"),
            (70.0, "alarm breath 12")
        ]));
    }
}
