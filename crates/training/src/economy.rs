//! Acts that nothing called for: what was repeated at once, and treatments that put
//! nothing right.

use tidewright_scenario::format::{Act, ActName, TimedAct};

use crate::care::KINDS;
use crate::session::Session;
use crate::text::{said, said_act};
use crate::tube::belongs_to_a_move;

/// Within this time the same look, test or treatment tells and does nothing new, s; and
/// the same control was not yet given a breath to show what it did (teaching choices).
const LOOK_AGAIN_S: f64 = 15.0;
const TURN_AGAIN_S: f64 = 4.0;

/// The acts that nothing called for, in words.
pub(crate) fn needless(session: &Session) -> Vec<String> {
    let called_for = &session.training().economy.called_for;
    // Where nothing can go wrong, the controls are what is to be learnt.
    let has_cases = !session.training().pool.is_empty();
    let acts = session.acts();
    let mut found = Vec::new();
    for (index, timed) in acts.iter().enumerate() {
        let name = timed.act.name();
        let told = |why: &str| format!("{} at {} s, {why}", said_act(&timed.act), said(timed.at_s));
        let before = acts[..index].iter().rfind(|one| one.act.name() == name);
        let again_s = if name.is_control() { TURN_AGAIN_S } else { LOOK_AGAIN_S };
        let is_again = before.is_some_and(|before| timed.at_s - before.at_s < again_s);
        if is_again && counts_again(name) {
            found.push(told("again at once"));
        } else if called_for.contains(&name) {
            continue;
        } else if treats(name) && !was_needed(session, timed) && !belongs_to_a_move(acts, index) {
            found.push(told("which put nothing right"));
        } else if name.is_control() && has_cases {
            found.push(told("which nothing called for"));
        }
    }
    found
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
    [world.mended_at_s].into_iter().chain(changes).any(|at_s| at_s == Some(timed.at_s))
}
