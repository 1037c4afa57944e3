//! The words that a session is begun, helped along and ended with.

use tidewright_scenario::format::{
    ActName, Asked, Checked, Guidance, Line, Prediction, Then, Training, WorkStep,
};
use tidewright_scenario::report::BANNER;

use crate::desk::view;
use crate::session::{End, Session};
use crate::words::command::WORDS;
use crate::words::text::said_act;

/// What is told before the clock starts.
#[must_use]
pub fn opening(session: &Session) -> String {
    let scenario = session.scenario();
    let training = session.training();
    let title = scenario.title.clone().unwrap_or_else(|| scenario.id.to_string());
    let mut text = format!("{BANNER}\n\n{title}\n");
    if let Some(story) = scenario.story_told() {
        text += &format!("{story}\n");
    }
    let weight = scenario.patient.weight_told();
    if training.varies.weight_percent > 0.0 && !text.contains(&weight) {
        text += &format!("The patient weighs {weight}.\n");
    }
    if training.guidance != Guidance::None {
        text += "\nTo learn:\n";
        for objective in &training.objectives {
            text += &format!("  - {}\n", objective.says);
        }
    }
    text
}

/// The acts that this lesson offers, each on a line that begins with two spaces.
#[must_use]
pub fn help(training: &Training) -> String {
    let mut text = String::from("You can type:\n");
    for (name, word, after, meaning) in WORDS {
        let asked = match name {
            ActName::Answer => !training.questions.is_empty(),
            ActName::Predict => !training.predictions.is_empty(),
            ActName::SetAlarm => true,
            name => training.offers.contains(&name),
        };
        if asked {
            let after = match name {
                ActName::Answer if training.questions.len() == 1 => "NUMBER",
                _ => after,
            };
            let typed = format!("{word} {after}");
            text += &format!("  {typed:<30}{meaning}\n");
        }
    }
    for (word, meaning, there) in [
        ("parts", "the parts, and what each port is on", training.table.is_some()),
        ("checks", "what can be checked", !training.checks.is_empty()),
        ("steps", "the steps of the work", !training.steps.is_empty()),
    ] {
        if there {
            text += &format!("  {word:<30}{meaning}\n");
        }
    }
    text + "  status                        read the monitor\n  \
            questions                     read the questions\n  \
            alarms                        read your alarms\n  \
            undo                          take back an act that waits\n  \
            hint                          what has changed, where the lesson helps\n  \
            help                          read this list\n  \
            end                           end the session; quit or exit do the same\n"
}

/// The same in a few lines, for a screen that has no room for a list.
#[must_use]
pub fn short_help(training: &Training) -> String {
    let offered = WORDS.iter().filter(|(name, ..)| training.offers.contains(name));
    let words: Vec<String> = offered
        .map(|(_, word, after, _)| format!("{word} {after}").trim_end().to_owned())
        .collect();
    format!(
        "{}; answer, questions, status, alarm, undo, slower, faster, breath, end. Enter alone \
         pauses, Page Up reads back. The beginning of a word will do.",
        words.join(", ")
    )
}

/// The parts on the table as an eye sees them, a line each.
pub(super) fn parts(session: &Session) -> String {
    let table = session.world().table.as_ref();
    table.map_or_else(String::new, |table| table.parts().as_seen().parts_told().join("\n"))
}

/// What can be checked, each as it is typed.
pub(super) fn checks(training: &Training) -> String {
    if training.checks.is_empty() {
        return "This lesson has nothing of its own to check.".to_owned();
    }
    let line = |one: &Checked| format!("  check {:<24}{}", one.id.as_str(), one.does);
    training.checks.iter().map(line).collect::<Vec<_>>().join("\n")
}

/// The steps of the work, and which must come before which.
pub(super) fn steps(training: &Training) -> String {
    if training.steps.is_empty() {
        return "This lesson has no steps of its own.".to_owned();
    }
    let line = |step: &WorkStep| {
        let says = |id: &Line| {
            let step = training.steps.iter().find(|one| one.id.as_str() == id.as_str());
            step.map_or("", |step| &step.says).to_owned()
        };
        let after: Vec<String> = step.after.iter().map(says).collect();
        match after.is_empty() {
            true => format!("  - {}", step.says),
            false => format!("  - {} (after: {})", step.says, after.join("; ")),
        }
    };
    let lines = training.steps.iter().map(line).collect::<Vec<_>>().join("\n");
    format!("Where nothing is said of an order, any will do.\n{lines}")
}

/// Whom it is about: name, kind and weight.
#[must_use]
pub fn patient(session: &Session) -> String {
    let patient = &session.scenario().patient;
    let kind = format!("{:?}", patient.species).to_lowercase();
    let name = patient.name.as_ref().map_or_else(String::new, |name| format!("{name}, "));
    format!("{name}{kind}, {}", patient.weight_told())
}

/// The questions and predictions of this lesson.
#[must_use]
pub fn questions(training: &Training) -> String {
    let mut text = String::new();
    for question in &training.questions {
        // The only question needs no name.
        text += &match training.questions.len() {
            1 => format!("answer N: {}\n", question.asks),
            _ => format!("answer {} N: {}\n", question.id, question.asks),
        };
        for (index, answer) in question.answers.iter().enumerate() {
            text += &format!("  {}  {answer}\n", index + 1);
        }
    }
    for asked in &training.predictions {
        text += &format!("predict {} up|same|down: {}\n", asked.id, asked.asks);
    }
    if text.is_empty() { "This lesson has no questions.\n".to_owned() } else { text }
}

/// What came of an act that was not done at once.
#[must_use]
pub fn came_of(asked: &Asked) -> String {
    let (act, at_s) = (said_act(&asked.act), asked.at_s);
    match &asked.then {
        Then::Done(at) => format!("{:.0} s {act}, which waited since {at_s:.0} s: done.", at.at_s),
        Then::TakenBack(at) => {
            format!("{:.0} s {act}, which waited since {at_s:.0} s: taken back.", at.at_s)
        }
        Then::Refused(why) => format!("{at_s:.0} s {act}: not done, {}.", why.text),
    }
}

/// The prediction that a session waits for.
#[must_use]
pub fn to_predict(asked: &Prediction) -> String {
    let (id, asks) = (&asked.id, &asked.asks);
    format!("{asks} Type: predict {id} up|same|down")
}

/// The monitor and the controls in one line.
#[must_use]
pub fn status(session: &Session) -> String {
    let line = |shown: Vec<view::Shown>| {
        let parts = shown.iter().map(|one| format!("{} {} {}", one.name, one.value, one.unit));
        parts.map(|part| part.trim_end().to_owned()).collect::<Vec<_>>().join(", ")
    };
    let monitor = view::numbers(session).map_or_else(|error| error.to_string(), line);
    let controls = line(view::controls(session));
    let time = session.now_s();
    let mut text = format!("{time:.1} s. {}. Monitor: {monitor}.", patient(session));
    if !controls.is_empty() {
        text += &format!(" Set: {controls}.");
    }
    text
}

/// Why the session is over.
#[must_use]
pub fn ending(session: &Session) -> &'static str {
    match session.ended() {
        Some(End::Time) => "The time is over.",
        Some(End::HandedOverForPressure) => {
            "The pressure in the lung became dangerous: the surgeon has taken over. The patient lives."
        }
        Some(End::HandedOverForApnoea) => {
            "There was no breath for too long: the surgeon has taken over. The patient lives."
        }
        Some(End::HandedOverForSaturation) => {
            "The blood had too little oxygen for too long: the surgeon has taken over. The patient lives."
        }
        Some(End::HandedOverForCirculation) => {
            "The heart did not pump for too long: the surgeon has taken over. The patient lives."
        }
        None => "You ended the session.",
    }
}
