//! What a debrief says first: what became of the patient, what helped most, what to do
//! otherwise and what would have come of it.

use tidewright_scenario::format::Quantity;

use super::courses::Course;
use super::effects::Effect;
use crate::judge::mark::{Marking, NO_HARM};
use crate::judge::measure::mean_of_breaths;
use crate::session::Session;
use crate::words::text::said;

/// What became of the patient, in a sentence.
pub(super) fn patient(session: &Session, marking: &Marking) -> String {
    let name = session.scenario().patient.name.clone();
    let name = name.unwrap_or_else(|| "The patient".to_owned());
    let mut letters = name.chars();
    let name: String =
        letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect();
    let harms = marking.criteria.iter().filter(|one| one.objective == NO_HARM && !one.met);
    let harms: Vec<String> =
        harms.map(|one| format!("{} {} ({})", one.measure, one.found, one.wanted)).collect();
    let volume = mean_of_breaths(session, Quantity::TidalVolume, session.now_s());
    let left = volume.map_or_else(String::new, |volume| {
        format!(" The last breaths that the ventilator gave were {} mL/kg.", said(volume))
    });
    let on_a_bench = !marking.criteria.iter().any(|one| one.objective == NO_HARM);
    match (session.ended(), harms.is_empty()) {
        (Some(end), _) if end != crate::bedside::End::Time => {
            format!("{name} had to be rescued: {}. That is not your merit.{left}", marking.ended)
        }
        (_, true) if on_a_bench => "No patient was on the ventilator.".to_owned(),
        (_, true) if marking.safe => format!("{name} came to no harm.{left}"),
        (_, true) => format!(
            "{name} passed no limit of harm that is counted here, but not all was done that keeps a \
             patient safe.{left}"
        ),
        (_, false) => format!("{name} came to harm: {}.{left}", harms.join("; ")),
    }
}

/// The one act that helped most.
pub(super) fn helped(effects: &[Effect]) -> Option<String> {
    let right = effects.iter().find(|effect| effect.put_right && effect.praised);
    let nearest = || {
        let praised = effects.iter().filter(|one| one.praised);
        let better = praised.filter(|one| one.nearer.is_some_and(|nearer| nearer > 0.0));
        better.max_by(|a, b| a.nearer.unwrap_or(0.0).total_cmp(&b.nearer.unwrap_or(0.0)))
    };
    let most = right.or_else(nearest)?;
    Some(format!("`{}` at {} s: {}.", most.act, said(most.at_s), most.in_words()))
}

/// The one thing to do otherwise, with what would have come of it.
pub(super) fn otherwise(
    marking: &Marking,
    effects: &[Effect],
    courses: &[Course],
) -> Option<String> {
    let avoidable = effects.iter().filter(|one| one.avoidable);
    let worse = avoidable.filter(|one| one.nearer.is_some_and(|nearer| nearer < -0.1));
    let worst = worse.min_by(|a, b| a.nearer.unwrap_or(0.0).total_cmp(&b.nearer.unwrap_or(0.0)));
    if let Some(worst) = worst {
        return Some(format!(
            "Leave out `{}` at {} s: with it the {}.",
            worst.act,
            said(worst.at_s),
            worst.in_words()
        ));
    }
    type Told = fn(&Course) -> String;
    if let ([was, _, righted], false) = (courses, effects.iter().any(|one| one.put_right)) {
        let volume = |course: &Course| {
            course
                .last_tidal_volume_ml_kg
                .map_or_else(|| "none".to_owned(), |ml| said(ml) + " mL/kg")
        };
        let apnoea = |course: &Course| said(course.longest_apnoea_s) + " s";
        let told =
            [("the last breath", volume as Told), ("the longest time without a breath", apnoea)]
                .map(|(name, told)| (name, told(righted), told(was)))
                .into_iter()
                .filter(|(_, righted, was)| righted != was)
                .map(|(name, righted, was)| {
                    format!("{name} would have been {righted} instead of {was}")
                })
                .collect::<Vec<_>>();
        // What would have changed nothing is no advice.
        if !told.is_empty() {
            return Some(format!("{}: {}.", righted.name, told.join(", ")));
        }
    }
    let missed = marking.criteria.iter().filter(|one| !one.met);
    let missed = missed.max_by(|a, b| {
        let weight = |safety: bool, lost: f64| if safety { f64::MAX } else { lost };
        let of = |one: &crate::judge::mark::Judged| {
            weight(one.strand == "safety", one.points_of - one.points)
        };
        of(a).total_cmp(&of(b))
    })?;
    Some(format!("{}: {}; wanted {}.", missed.measure, missed.found, missed.wanted))
}
