//! Numbers as a person says them, and acts as they are typed.

use tidewright_scenario::format::{Act, Training};

/// Three digits that count at most, none beyond hundredths.
#[must_use]
pub fn said(value: f64) -> String {
    let decimals = match value.abs() {
        size if size >= 99.95 => 0,
        size if size >= 9.995 => 1,
        _ => 2,
    };
    let text = format!("{value:.decimals$}");
    let text =
        if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// What an answer says, in full: an answer is final, and with several questions it may
/// have gone to another than was meant.
pub(crate) fn answered(training: &Training, act: &Act) -> Option<String> {
    let Act::Answer(answer) = act else { return None };
    let question = training.questions.iter().find(|one| one.id == answer.question)?;
    let chosen = question.answers.get((answer.choice as usize).checked_sub(1)?)?;
    Some(format!("Answered: {} {chosen}", question.asks))
}

/// An act with what was set, as it is typed.
#[must_use]
pub fn said_act(act: &Act) -> String {
    let word = crate::words::command::words_of(act.name());
    match act {
        Act::FreshGasFlow(new) => format!("{word} {} L/min", said(new.l_min)),
        Act::CyclingPressure(new) => format!("{word} {} cmH2O", said(new.cmh2o)),
        Act::InspiratoryTimeLimit(new) => format!("{word} {} s", said(new.s)),
        Act::ExpiratoryTime(new) => format!("{word} {} s", said(new.s)),
        Act::Squeeze(thumb) => format!("{word} {} mL in {} s", said(thumb.ml), said(thumb.s)),
        Act::Join(two) => format!("{word} {} {}", two.a, two.b),
        Act::Part(one) => format!("{word} {}", one.port),
        Act::Check(one) | Act::PutRight(one) => format!("{word} {}", one.check),
        Act::InflateCuff(new) => format!("{word} {} cmH2O", said(new.cmh2o)),
        Act::Record(note) => format!("{word} {}", note.text),
        Act::Answer(answer) => format!("{word} {} {}", answer.question, answer.choice),
        Act::Predict(guess) => {
            let goes = format!("{:?}", guess.goes).to_lowercase();
            format!("{word} {} {goes}", guess.prediction)
        }
        Act::SetAlarm(limit) => {
            let names = crate::words::command::ALARMS.iter().find(|(of, ..)| *of == limit.of);
            let (name, unit) = names.map_or(("", ""), |(_, name, unit, _)| (*name, *unit));
            let at = limit.at.map_or_else(|| "off".to_owned(), |at| format!("{} {unit}", said(at)));
            format!("{word} {name} {at}")
        }
        Act::Mode(mode) => format!("{word} {}", format!("{mode:?}").to_lowercase()),
        _ => word.to_owned(),
    }
}
