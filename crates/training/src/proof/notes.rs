//! What a teacher should know of a lesson beside its verdicts.

use tidewright_scenario::format::{Act, ActName, Case, CuffPressure, Thumb, Training};

use crate::case::care::Change;
use crate::case::draw::{Drawn, first_seed};
use crate::case::mends::{Mends, mends};
use crate::judge::mark::Marking;
use crate::words::text::said;

/// Objectives that nothing measures, cases that nothing on offer can mend, criteria that
/// give points for doing nothing.
pub(super) fn notes(training: &Training, nothing: &[&Marking]) -> Vec<String> {
    let mut notes = Vec::new();
    for objective in &training.objectives {
        if !training.criteria.iter().any(|criterion| criterion.objective == objective.id) {
            notes.push(format!("no criterion measures the objective `{}`", objective.id));
        }
    }
    for case in training.pool.iter().filter(|case| !can_be_mended(case, &training.offers)) {
        notes.push(format!("no act on offer mends the case `{}`", case.id));
    }
    let mut free: Vec<String> = Vec::new();
    for marking in nothing {
        for judged in marking.criteria.iter().filter(|judged| judged.points > 0.0) {
            let note = format!("who does nothing meets `{}`", judged.measure);
            if !free.contains(&note) {
                free.push(note);
            }
        }
    }
    notes.extend(free);
    notes
}

/// Where an expert for these cases finds them: a seed, and when it begins.
pub(super) fn seeds<'a>(
    training: &'a Training,
    cases: &'a [String],
) -> impl Iterator<Item = String> + 'a {
    let of = |case: &&Case| cases.iter().any(|one| one == case.id.as_str());
    training.pool.iter().filter(of).filter_map(|case| {
        let (seed, drawn) = first_seed(training, &case.id)?;
        let onset_s = said(drawn.onset_s);
        Some(format!("seed {seed} draws the case `{}`, which begins at {onset_s} s", case.id))
    })
}

/// Whether an act on offer puts right what the case ends with; so it is where nothing is
/// wrong, or where it is done on purpose and ends by itself.
fn can_be_mended(case: &Case, offers: &[ActName]) -> bool {
    let drawn = Drawn { case: case.clone(), onset_s: 0.0 };
    if !drawn.is_wrong() || drawn.is_on_purpose() {
        return true;
    }
    let acts = offers.iter().filter_map(|name| match name {
        ActName::Squeeze => Some(Act::Squeeze(Thumb { ml: 0.2, s: 2.0 })),
        ActName::InflateCuff => Some(Act::InflateCuff(CuffPressure { cmh2o: 25.0 })),
        name => Act::plain(*name),
    });
    let acts: Vec<Act> = acts.collect();
    let fault =
        drawn.first().is_none_or(|fault| acts.iter().any(|act| mends(fault, act) != Mends::No));
    // Both ways from what the file sets, as a change may lead either way.
    let mended = |change: &Change| {
        acts.iter().any(|act| {
            [f64::MIN, f64::MAX].iter().any(|away| change.mends(*away, act) != Mends::No)
        })
    };
    fault && drawn.changes().iter().all(mended)
}
