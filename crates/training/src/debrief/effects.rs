//! What each act did: the session as it was, beside the same without that act.

use serde::Serialize;
use tidewright::fault::Fault;
use tidewright_scenario::format::{Act, ActName, Quantity, TimedAct};

use crate::case::draw::Drawn;
use crate::case::tube::SEALS_CMH2O;
use crate::judge::economy::{only_tells, put_right};
use crate::judge::measure::{mean_of_breaths, name_of, unit_of};
use crate::session::replay::Played;
use crate::session::{Session, SessionError};
use crate::words::text::{said, said_act};

/// After this time an act has shown what it does, s.
const SHOWS_S: f64 = 30.0;
/// Smallest change that is told, as a share.
const TOLD_SHARE: f64 = 0.05;
/// Pressures below which a share says nothing, cmH2O or mmHg.
const LEAST: f64 = 1.0;
/// Most acts of which the effect is worked out.
const MOST: usize = 16;

/// What an act did.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Effect {
    /// When it was done, s.
    pub at_s: f64,
    /// The act as it is typed.
    pub act: String,
    /// What it moved most, in words.
    pub of: &'static str,
    /// That number some time later, or just before the next act of the kind.
    pub with_it: f64,
    /// The same without the act.
    pub without_it: f64,
    /// Its unit.
    pub unit: &'static str,
    /// Whether it put right what was wrong.
    pub put_right: bool,
    /// How much nearer it came to what it would have been in health, as a share of that;
    /// negative: farther away. Null where nothing was wrong to compare with.
    pub nearer: Option<f64>,
    /// Whether it may be named as what helped most.
    #[serde(skip)]
    pub(super) praised: bool,
    /// Whether a student may be told to leave it out.
    #[serde(skip)]
    pub(super) avoidable: bool,
}

impl Effect {
    /// The effect in words.
    #[must_use]
    pub fn in_words(&self) -> String {
        format!(
            "{} {} {unit} instead of {} {unit}",
            self.of,
            said(self.with_it),
            said(self.without_it),
            unit = self.unit
        )
    }
}

/// The effects of the acts that did something, in order of time.
pub(super) fn effects(
    played: &Played,
    healthy: Option<&Session>,
) -> Result<Vec<Effect>, SessionError> {
    let session = &played.session;
    // The session goes by once more. At each act it goes on without that act for as long as
    // is looked at, and then goes back.
    let mut again = played.again()?;
    let from_s = again.now_s();
    let acts = session.acts();
    let acts = &acts[acts.partition_point(|timed| timed.at_s < from_s)..];
    let (mut found, mut judged) = (Vec::new(), 0);
    for (index, timed) in acts.iter().enumerate() {
        again.play_to(timed.at_s)?;
        if judged < MOST && !only_tells(&timed.act) {
            judged += 1;
            let until_s = compared_at_s(session, timed);
            let before = again.save();
            for later in acts[index + 1..].iter().take_while(|later| later.at_s <= until_s) {
                again.play_to(later.at_s)?;
                // What was open only because of the act is left out with it.
                let _ = again.act(later.act.clone());
            }
            again.play_to(until_s)?;
            found.extend(effect(session, &again, healthy, timed, until_s));
            again.go_back(&before);
        }
        let _ = again.act(timed.act.clone());
    }
    Ok(found)
}

/// No act that hurts is named as a help: a control hides a fault, unless the lesson calls
/// for it; a cuff beyond its limit presses on the trachea; a bag feeds air under tension.
fn may_be_praised(session: &Session, act: &Act) -> bool {
    let training = session.training();
    match act {
        Act::InflateCuff(to) => to.cmh2o <= SEALS_CMH2O[1],
        Act::HandVentilate => {
            session.drawn().and_then(Drawn::first) != Some(Fault::TensionPneumothorax)
        }
        act if act.name().is_control() => {
            training.pool.is_empty() || training.economy.called_for.contains(&act.name())
        }
        _ => true,
    }
}

/// Only a control that took pressure or volume the wrong way is told to be left out: never
/// a call, a test or what makes safe, nor a rate, which is lowered to wean.
fn may_be_left_out(act: &Act, of: Quantity) -> bool {
    let name = act.name();
    let weighs =
        matches!(of, Quantity::TidalVolume | Quantity::AlveolarPressure | Quantity::IntrinsicPeep);
    weighs && name.is_control() && name != ActName::Mode
}

/// What an act did, from the session without it up to a time.
fn effect(
    session: &Session,
    without: &Session,
    healthy: Option<&Session>,
    timed: &TimedAct,
    until_s: f64,
) -> Option<Effect> {
    let (of, with_it, without_it) = most_moved(session, without, until_s)?;
    let in_health = healthy.and_then(|healthy| mean_of_breaths(healthy, of, until_s));
    let nearer = in_health.map(|usual| {
        ((without_it - usual).abs() - (with_it - usual).abs()) / usual.abs().max(LEAST)
    });
    Some(Effect {
        at_s: timed.at_s,
        act: said_act(&timed.act),
        of: name_of(of),
        with_it,
        without_it,
        unit: unit_of(of),
        put_right: put_right(session, timed),
        nearer,
        praised: may_be_praised(session, &timed.act),
        avoidable: may_be_left_out(&timed.act, of),
    })
}

/// When what an act did is looked at: before the next act of its kind, a rescue, the end.
fn compared_at_s(session: &Session, timed: &TimedAct) -> f64 {
    let name = timed.act.name();
    let next = session.acts().iter().find(|one| one.at_s > timed.at_s && one.act.name() == name);
    let mended_s = session.all_mended_at_s().filter(|&at_s| at_s > timed.at_s);
    let stops = next.map(|next| next.at_s).into_iter().chain(mended_s).chain([session.now_s()]);
    // An act that only calls for help has done so when help has come.
    let calls = name == ActName::CallSurgeon;
    let shows_s = timed.at_s + if calls { 3.0 * SHOWS_S } else { SHOWS_S };
    if calls { shows_s.min(session.now_s()) } else { stops.fold(shows_s, f64::min) }
}

/// The number that differs most, with the act and without it.
fn most_moved(session: &Session, without: &Session, by_s: f64) -> Option<(Quantity, f64, f64)> {
    let all = [
        Quantity::TidalVolume,
        Quantity::AlveolarPressure,
        Quantity::IntrinsicPeep,
        Quantity::EndTidalCarbonDioxide,
        Quantity::MinuteVolume,
    ];
    let moved = all.into_iter().filter_map(|of| {
        let (with_it, without_it) =
            (mean_of_breaths(session, of, by_s)?, mean_of_breaths(without, of, by_s)?);
        let share = (with_it - without_it).abs() / without_it.abs().max(LEAST);
        (share >= TOLD_SHARE).then_some((of, with_it, without_it, share))
    });
    // Volume is what a breath is about: another number must have moved half as much more.
    let weight = |of: Quantity| if of == Quantity::TidalVolume { 1.5 } else { 1.0 };
    let most = moved.max_by(|a, b| (weight(a.0) * a.3).total_cmp(&(weight(b.0) * b.3)));
    most.map(|(of, with_it, without_it, _)| (of, with_it, without_it))
}
