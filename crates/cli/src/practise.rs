//! A practice session in the terminal: the words both ways of showing it share.

mod lines;
mod screen;

use tidewright_scenario::fault::near;
use tidewright_scenario::format::{Act, ActName, Guidance, Training};
use tidewright_training::command::{NotUnderstood, WORDS};
use tidewright_training::{BANNER, End, Session, parse_in, view};

pub use lines::in_lines;
pub use screen::on_screen;

/// What a typed line asks for.
pub enum Wish {
    /// Nothing: an empty line.
    Nothing,
    /// To be told something; nothing has happened.
    Told(String),
    /// An act that was done, and what it told.
    Done(String),
    /// To let this much time pass, s.
    Wait(f64),
    /// To end the session.
    End,
}

/// Carries out a typed line.
pub fn heed(session: &mut Session, line: &str) -> Wish {
    let line = line.trim();
    let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
    match &*word.to_ascii_lowercase() {
        "" => return Wish::Nothing,
        "end" | "quit" | "exit" | "stop" | "finish" | "q" if rest.is_empty() => return Wish::End,
        "help" | "?" | "commands" => return Wish::Told(help(session.training())),
        "status" | "monitor" => return Wish::Told(status(session)),
        "questions" => return Wish::Told(questions(session.training())),
        "wait" => {
            return match rest.trim_end_matches(['s', ' ']).trim().parse::<f64>() {
                Ok(s) if s > 0.0 && s <= 600.0 => Wish::Wait(s),
                _ => Wish::Told("write `wait` and 1 to 600 seconds, as in `wait 10`".to_owned()),
            };
        }
        _ => {}
    }
    let (before, busy) = (session.seen().len(), session.busy_until_s());
    let act = match parse_in(session, line) {
        Ok(act) => act,
        Err(NotUnderstood::Word(word)) => return Wish::Told(no_act(session.training(), &word)),
        Err(reason) => return Wish::Told(reason.to_string()),
    };
    let answered = answered(session.training(), &act);
    match session.act(act) {
        Ok(()) => {
            let seen = session.seen()[before..].iter().map(|seen| seen.text.clone());
            let seen: Vec<String> = seen.collect();
            let begun = session.busy_until_s().filter(|_| session.busy_until_s() != busy);
            Wish::Done(match (answered, begun) {
                _ if !seen.is_empty() => seen.join(" "),
                (Some(answered), _) => answered,
                (None, Some(until_s)) => format!("Your hands are busy until {until_s:.0} s."),
                (None, None) => "Done.".to_owned(),
            })
        }
        Err(reason) => Wish::Told(reason.to_string()),
    }
}

/// What an answer says, in full: an answer is final, and with several questions it may
/// have gone to another than was meant.
fn answered(training: &Training, act: &Act) -> Option<String> {
    let Act::Answer(answer) = act else { return None };
    let question = training.questions.iter().find(|one| one.id == answer.question)?;
    let chosen = question.answers.get((answer.choice as usize).checked_sub(1)?)?;
    Some(format!("Answered: {} {chosen}", question.asks))
}

/// What is told of a word that is none, with the one on offer that it is most like.
fn no_act(training: &Training, word: &str) -> String {
    let offered = WORDS.iter().filter(|(name, ..)| training.offers.contains(name));
    let offered = offered.map(|(_, known, ..)| *known).chain(["status", "questions", "help"]);
    let offered: Vec<&str> = offered.collect();
    match near(word, &offered) {
        Some(near) => format!("`{word}` is no act; did you mean `{near}`?"),
        None => NotUnderstood::Word(word.to_owned()).to_string(),
    }
}

/// What is told before the clock starts.
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

/// The acts that this lesson offers.
pub fn help(training: &Training) -> String {
    let mut text = String::from("You can type:\n");
    for (name, word, after, meaning) in WORDS {
        let asked = match name {
            ActName::Answer => !training.questions.is_empty(),
            ActName::Predict => !training.predictions.is_empty(),
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
    text + "  status                        read the monitor\n  \
            questions                     read the questions\n  \
            help                          read this list\n  \
            end                           end the session; quit or exit do the same\n"
}

/// The same in a few lines, for a screen that has no room for a list.
pub fn short_help(training: &Training) -> String {
    let offered = WORDS.iter().filter(|(name, ..)| training.offers.contains(name));
    let words: Vec<String> = offered
        .map(|(_, word, after, _)| format!("{word} {after}").trim_end().to_owned())
        .collect();
    format!(
        "{}; answer, questions, status, end. Enter alone pauses, \
         Page Up reads back.",
        words.join(", ")
    )
}

/// The questions and predictions of this lesson.
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

/// The monitor and the controls in one line each.
pub fn status(session: &Session) -> String {
    let line = |shown: Vec<view::Shown>| {
        let parts = shown.iter().map(|one| format!("{} {} {}", one.name, one.value, one.unit));
        parts.map(|part| part.trim_end().to_owned()).collect::<Vec<_>>().join(", ")
    };
    let monitor = view::numbers(session).map_or_else(|error| error.to_string(), line);
    let controls = line(view::controls(session));
    let time = session.now_s();
    let mut text = format!("{time:.1} s. Monitor: {monitor}.");
    if !controls.is_empty() {
        text += &format!(" Set: {controls}.");
    }
    text
}

/// Why the session is over.
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
