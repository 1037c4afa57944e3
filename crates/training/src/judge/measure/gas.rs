//! Measures of carbon dioxide, oxygen and the patient's own breaths.
//!
//! They judge the patient: end-tidal carbon dioxide is the true one, whatever reached
//! the monitor through a leaking sampling line, and the words of the criterion say so.
//! A patient that was well ventilated behind a loose line was well ventilated; that the
//! number was doubted is what recognition and mending are marked for. What a student
//! is asked to foretell and then reads off, a prediction, is judged by what was shown.

use tidewright::exchange::GasBreath;
use tidewright::quantity::PartialPressure;
use tidewright_scenario::format::{EndTidalShare, EndTidalTime};

use super::{Verdict, at_least, at_most};
use crate::session::Session;

/// Breaths that count as the last ones.
const LAST: usize = 5;

pub(super) fn end_tidal_outside(session: &Session, time: &EndTidalTime) -> Verdict {
    let (within_s, all_s) = within(session, time.from_s, time.lowest_mmhg, time.highest_mmhg);
    let outside = (all_s > 0.0).then_some((all_s - within_s) / 60.0);
    at_most(outside, time.at_most_min, "min")
}

pub(super) fn end_tidal_within(session: &Session, share: &EndTidalShare) -> Verdict {
    let (within_s, all_s) = within(session, share.from_s, share.lowest_mmhg, share.highest_mmhg);
    let part = (all_s > 0.0).then(|| 100.0 * within_s / all_s);
    at_least(part, share.at_least_percent, "%")
}

/// Mean over the last five breaths of any kind, mmHg; nothing where the last cycle
/// brought no gas to the lung.
pub(super) fn mean_of_last(
    session: &Session,
    value: impl Fn(&GasBreath) -> PartialPressure,
) -> Option<f64> {
    let breaths = session.gas_breaths();
    breaths.last().filter(|last| last.reaches_lung)?;
    mean(&breaths[breaths.len().saturating_sub(LAST)..], |breath| value(breath).as_mmhg())
}

/// Mean expired volume of the last five breaths, where they all were the patient's
/// own, mL/kg.
pub(crate) fn own_tidal_volume_ml_kg(session: &Session) -> Option<f64> {
    let breaths = session.gas_breaths();
    let last = &breaths[breaths.len().checked_sub(LAST)?..];
    let weight_kg = session.scenario().patient.weight_kg;
    let own = last.iter().all(|breath| breath.own);
    mean(last, |breath| breath.expired.as_ml() / weight_kg).filter(|_| own)
}

/// Time of breaths with end-tidal carbon dioxide within a range, and of all, s: a cycle
/// that brought no gas to the lung is never within.
fn within(session: &Session, from_s: f64, lowest_mmhg: f64, highest_mmhg: f64) -> (f64, f64) {
    let breaths = session.gas_breaths().iter();
    let counted = breaths.filter(|breath| breath.start.as_s() >= from_s);
    counted.fold((0.0, 0.0), |(within_s, all_s), breath| {
        let lasted_s = breath.duration.as_s();
        let end_tidal = breath.end_tidal_carbon_dioxide.as_mmhg();
        let is_within = breath.reaches_lung && (lowest_mmhg..=highest_mmhg).contains(&end_tidal);
        (within_s + if is_within { lasted_s } else { 0.0 }, all_s + lasted_s)
    })
}

fn mean(breaths: &[GasBreath], value: impl Fn(&GasBreath) -> f64) -> Option<f64> {
    let count = breaths.len();
    (count > 0).then(|| breaths.iter().map(value).sum::<f64>() / count as f64)
}
