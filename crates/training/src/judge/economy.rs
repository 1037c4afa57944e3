//! Acts that nothing called for: what was repeated at once, and treatments that put
//! nothing right.

use tidewright_scenario::format::{Act, ActName, TimedAct, Ventilator};

use crate::case::care::KINDS;
use crate::case::tube::belongs_to_a_move;
use crate::session::Session;
use crate::words::text::{said, said_act};

/// Within this time the same look, test or treatment tells and does nothing new, s; and
/// the same control was not yet given a breath to show what it did (teaching choices).
const LOOK_AGAIN_S: f64 = 15.0;
const TURN_AGAIN_S: f64 = 4.0;

/// What nothing called for: how much of it counts, and in words.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Needless {
    /// Acts that put nobody at risk.
    pub harmless: usize,
    /// Acts that did.
    pub risky: usize,
    /// All of them, in words.
    pub told: Vec<String>,
}

/// The acts that nothing called for.
pub(crate) fn needless(session: &Session) -> Needless {
    let called_for = &session.training().economy.called_for;
    // Where nothing can go wrong, the controls are what is to be learnt.
    let has_cases = !session.training().pool.is_empty();
    let acts = session.acts();
    let mut found = Needless::default();
    for (index, timed) in acts.iter().enumerate() {
        let name = timed.act.name();
        let told = |why: &str| format!("{} at {} s, {why}", said_act(&timed.act), said(timed.at_s));
        let before = acts[..index].iter().rfind(|one| one.act.name() == name);
        let again_s = if name.is_control() { TURN_AGAIN_S } else { LOOK_AGAIN_S };
        let is_again = before.is_some_and(|before| timed.at_s - before.at_s < again_s);
        let why = if is_again && counts_again(name) {
            "again at once"
        } else if called_for.contains(&name) {
            continue;
        } else if treats(name) && !was_needed(session, timed) && !belongs_to_a_move(acts, index) {
            "which put nothing right"
        } else if name.is_control() && has_cases {
            "which nothing called for"
        } else if name.is_control() && leads_away(session, index) {
            "away from where you left it"
        } else {
            continue;
        };
        *if is_risky(name) { &mut found.risky } else { &mut found.harmless } += 1;
        found.told.push(told(why));
    }
    found
}

/// Smallest turn away from where a control is left in the end that is told, as a share (a
/// teaching choice).
const AWAY_SHARE: f64 = 0.05;

/// Whether a turn of a control led away from where it was left in the end.
fn leads_away(session: &Session, index: usize) -> bool {
    let acts = session.acts();
    let name = acts[index].act.name();
    let start = &session.scenario().ventilator;
    let turns = |acts: &[TimedAct]| {
        let own = acts.iter().rev().filter(|timed| timed.act.name() == name);
        own.filter_map(|timed| set_to(&timed.act)).next().map(|(to, _)| to)
    };
    let Some((to, before)) = set_to(&acts[index].act).map(|(to, of)| (to, of(start))) else {
        return false;
    };
    let before = turns(&acts[..index]).unwrap_or(before);
    let last = turns(acts).unwrap_or(to);
    (to - last).abs() > (before - last).abs() + AWAY_SHARE * last.abs()
}

/// Where a control began.
type Began = fn(&Ventilator) -> f64;

/// What a control was set to, and where it began.
fn set_to(act: &Act) -> Option<(f64, Began)> {
    Some(match act {
        Act::FreshGasFlow(new) => (new.l_min, |start| start.fresh_gas_flow_l_min),
        Act::CyclingPressure(new) => (new.cmh2o, |start| start.cycling_pressure_cmh2o),
        Act::InspiratoryTimeLimit(new) => (new.s, |start| start.inspiratory_time_limit_s),
        Act::ExpiratoryTime(new) => (new.s, |start| start.expiratory_time_s),
        _ => return None,
    })
}

/// Whether an act takes a patient off the ventilator, or moves the tube: without need it
/// costs breaths, oxygen or a mucous membrane.
fn is_risky(name: ActName) -> bool {
    matches!(
        name,
        ActName::Suction
            | ActName::WithdrawTube
            | ActName::ChangeTube
            | ActName::DeflateCuff
            | ActName::ChangeLimb
            | ActName::ChangeVentilator
            | ActName::Disconnect
    )
}

/// Whether to do it again at once is needless: what goes in steps, and words, are not.
fn counts_again(name: ActName) -> bool {
    !matches!(
        name,
        ActName::Deepen
            | ActName::Lighten
            | ActName::Warm
            | ActName::Cool
            | ActName::Record
            | ActName::Answer
            | ActName::Predict
            | ActName::SetAlarm
            | ActName::Join
            | ActName::Part
            | ActName::Check
            | ActName::PutRight
    )
}

/// Whether an act treats something that must be wrong.
pub(crate) fn treats(name: ActName) -> bool {
    matches!(
        name,
        ActName::InflateCuff
            | ActName::DeflateCuff
            | ActName::Suction
            | ActName::ReseatJoint
            | ActName::WithdrawTube
            | ActName::ChangeTube
            | ActName::ChangeLimb
            | ActName::ChangeVentilator
            | ActName::SwapCylinder
            | ActName::ChangeAdapter
            | ActName::FillVaporiser
            | ActName::PutRight
            | ActName::Disconnect
            | ActName::HandVentilate
    )
}

/// Whether an act changes nothing of patient or equipment.
pub(crate) fn only_tells(act: &Act) -> bool {
    use ActName as Name;
    matches!(
        act.name(),
        Name::Look
            | Name::Listen
            | Name::CheckGauge
            | Name::ReadHours
            | Name::Trace
            | Name::Check
            | Name::CheckSupply
            | Name::MeasureCuff
            | Name::CheckPulse
            | Name::CheckTemperature
            | Name::CheckDepth
            | Name::CheckVaporiser
            | Name::Record
            | Name::Answer
            | Name::Predict
            | Name::SetAlarm
    )
}

/// Whether a treatment put something right, or kept a patient safe while something was
/// wrong.
fn was_needed(session: &Session, timed: &TimedAct) -> bool {
    if put_right(session, timed) {
        return true;
    }
    let off = matches!(timed.act, Act::Disconnect | Act::HandVentilate);
    let begun =
        session.drawn().is_some_and(|drawn| drawn.onset_s <= timed.at_s && drawn.is_wrong());
    off && begun && session.all_mended_at_s().is_none_or(|at_s| at_s > timed.at_s)
}

/// Whether something was put right by this very act.
pub(crate) fn put_right(session: &Session, timed: &TimedAct) -> bool {
    let world = session.world();
    let changes = KINDS.iter().map(|kind| world.care.put_right_s(*kind));
    let amiss = world.put_right.iter().map(|(_, at_s)| Some(*at_s));
    [world.mended_at_s].into_iter().chain(changes).chain(amiss).any(|at_s| at_s == Some(timed.at_s))
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::words::command::parse;

    fn told(text: &str, acts: &[(f64, &str)]) -> Needless {
        let scenario = Arc::new(tidewright_scenario::parse("a.ron", text).expect("a lesson"));
        let mut session = Session::new(scenario, 17).expect("a session");
        for (at_s, typed) in acts {
            session.play(*at_s).expect("time");
            session.act(parse(typed).expect("an act")).expect("open");
        }
        needless(&session)
    }

    #[test]
    fn a_turn_away_from_where_a_control_is_left_is_told() {
        let text = include_str!("../../../../scenarios/training/biscuit-settings-from-weight.ron");
        let start = tidewright_scenario::parse("a.ron", text).expect("a lesson").ventilator;
        let flow = |share: f64| format!("flow {}", start.fresh_gas_flow_l_min * share);
        let (down, up, far) = (flow(0.5), flow(1.5), flow(1.6));
        assert_eq!(told(text, &[(10.0, &up)]), Needless::default());
        // A little too far and back is how one finds a setting.
        assert_eq!(told(text, &[(10.0, &far), (30.0, &up)]), Needless::default());
        let away = told(text, &[(10.0, &down), (30.0, &up)]);
        assert_eq!((away.harmless, away.risky), (1, 0));
        assert!(away.told[0].contains("away from where you left it"), "{:?}", away.told);
    }

    #[test]
    fn a_needless_act_that_puts_the_patient_at_risk_is_counted_apart() {
        // Seed 17 draws the healthy ferret.
        let text = include_str!("../../../../scenarios/training/clover-rapid-short-cycles.ron");
        let found = told(text, &[(140.0, "listen"), (150.0, "suction"), (200.0, "flow 1")]);
        assert_eq!((found.harmless, found.risky), (1, 1), "{:?}", found.told);
    }
}
