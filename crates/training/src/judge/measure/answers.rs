//! Answers: the first one counts, and only from when on something could be known.

use tidewright_scenario::format::{Act, Id, Question, TimedAct, Which};

use super::{Clues, Verdict, list};
use crate::judge::economy::only_tells;
use crate::session::Session;
use crate::words::text::said;

pub(super) fn answered(which: &Which, session: &Session, clues: &Clues) -> Verdict {
    let question = session.training().questions.iter().find(|q| q.id == which.question);
    let Some(question) = question else {
        let found = "no such question".to_owned();
        return Verdict { met: false, found, wanted: String::new() };
    };
    let answer = |number: u32| {
        let index = (number as usize).checked_sub(1);
        let answer = index.and_then(|index| question.answers.get(index));
        answer.map(ToString::to_string).unwrap_or_default()
    };
    let right = right_choice(session, question);
    // Who ended before the case began can still find it.
    let wanted =
        if session.case_has_begun() { answer(right) } else { "the right answer".to_owned() };
    let Some((timed, choice)) = given(session, &question.id) else {
        return Verdict { met: false, found: "no answer".to_owned(), wanted };
    };
    let mut found = answer(choice);
    let mut counts = true;
    let from_s = question.from_s.unwrap_or_else(|| known_from_s(session, clues));
    if timed.at_s < from_s {
        counts = false;
        found += &format!(", but at {} s, before anything could be known", said(timed.at_s));
    }
    let after = &question.after;
    let looked = |one: &&TimedAct| after.contains(&one.act.name()) && one.at_s <= timed.at_s;
    // Who looked at a healthy patient before its case began saw all that there was.
    let is_wrong = session.drawn().is_some_and(|drawn| drawn.is_wrong());
    let from_s = if question.from_s.is_some() || !is_wrong { 0.0 } else { clues.onset_s };
    let looked = session.acts().iter().filter(|one| one.at_s >= from_s).any(|one| looked(&one));
    if counts && !after.is_empty() && !looked {
        counts = false;
        found += &format!(", but before any {}", list(after));
    }
    Verdict { met: counts && choice == right, found, wanted }
}

/// The first answer to a question, and what it chose.
pub(crate) fn given<'a>(session: &'a Session, question: &Id) -> Option<(&'a TimedAct, u32)> {
    session.acts().iter().find_map(|timed| match &timed.act {
        Act::Answer(answer) if answer.question == *question => Some((timed, answer.choice)),
        _ => None,
    })
}

/// The right answer in the case that was drawn.
pub(crate) fn right_choice(session: &Session, question: &Question) -> u32 {
    let answers = session.drawn().map(|drawn| &drawn.case.answers[..]).unwrap_or_default();
    let here = answers.iter().find(|answer| answer.question == question.id);
    here.map_or(question.right, |answer| answer.choice)
}

/// From when on the cause could be known: the first sign on the monitor, or what a look,
/// an ear or a check told earlier.
fn known_from_s(session: &Session, clues: &Clues) -> f64 {
    let looked = session.acts().iter().find(|timed| {
        timed.at_s >= clues.onset_s && only_tells(&timed.act) && !is_said(&timed.act)
    });
    let looked_s = looked.map(|timed| timed.at_s);
    let sign_s = clues.sign_s.unwrap_or(f64::INFINITY);
    looked_s.map_or(sign_s, |looked_s| looked_s.min(sign_s)).min(clues.latest_s)
}

fn is_said(act: &Act) -> bool {
    matches!(act, Act::Answer(_) | Act::Predict(_) | Act::Record(_) | Act::SetAlarm(_))
}
