//! What a typed line asks for, and what it is answered.

use serde::Serialize;
use tidewright_scenario::fault::near;
use tidewright_scenario::format::{Act, Training};

use super::says::{help, questions, status};
use crate::command::{NotUnderstood, WORDS};
use crate::session::{NotOpen, Session};
use crate::typed::parse_in;

/// What a typed line came to.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "reply", rename_all = "snake_case")]
pub enum Reply {
    /// Nothing: an empty line.
    Nothing,
    /// Something was told; nothing has happened.
    Told {
        /// What.
        says: String,
    },
    /// The acts that may be typed.
    Help {
        /// The list.
        says: String,
    },
    /// It cannot be done; nothing has happened.
    Refused(Refusal),
    /// An act that was done.
    Done {
        /// What it told.
        says: String,
    },
    /// So much time is to pass.
    Wait {
        /// How much, s.
        s: f64,
    },
    /// The session is to end.
    End,
}

/// Why a line cannot be done.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Refusal {
    /// The kind of reason.
    pub why: Why,
    /// The reason in words, with a way to mend it where there is one.
    pub says: String,
}

/// A kind of refusal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// What was typed is no act, or no whole one, or out of range.
    NotUnderstood,
    /// The lesson does not offer it.
    NotOffered,
    /// Hands are busy.
    HandsBusy,
    /// The session is over.
    Ended,
    /// There is no such question, prediction or answer.
    NoSuchQuestion,
    /// It was answered or predicted already, or the answer has been shown.
    TooLate,
    /// The machine cannot be set so.
    CannotBeSet,
}

impl Reply {
    /// What is to be told, if anything is.
    #[must_use]
    pub fn says(&self) -> Option<&str> {
        match self {
            Self::Told { says } | Self::Help { says } | Self::Done { says } => Some(says),
            Self::Refused(refusal) => Some(&refusal.says),
            Self::Nothing | Self::Wait { .. } | Self::End => None,
        }
    }
}

impl From<NotUnderstood> for Refusal {
    fn from(error: NotUnderstood) -> Self {
        Self { why: Why::NotUnderstood, says: error.to_string() }
    }
}

impl From<NotOpen> for Refusal {
    fn from(error: NotOpen) -> Self {
        let why = match &error {
            NotOpen::NotOffered => Why::NotOffered,
            NotOpen::Ended => Why::Ended,
            NotOpen::Busy { .. } => Why::HandsBusy,
            NotOpen::Unknown(_) | NotOpen::NoSuchAnswer { .. } => Why::NoSuchQuestion,
            NotOpen::Again(_) | NotOpen::TooLate(_) => Why::TooLate,
            NotOpen::BelowPeep(_) | NotOpen::Setup(_) | NotOpen::Refused(_) => Why::CannotBeSet,
        };
        Self { why, says: error.to_string() }
    }
}

/// Carries out a typed line.
pub fn heed(session: &mut Session, line: &str) -> Reply {
    let line = line.trim();
    let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
    let told = |says: String| Reply::Told { says };
    match &*word.to_ascii_lowercase() {
        "" => return Reply::Nothing,
        "end" | "quit" | "exit" | "stop" | "finish" | "q" if rest.is_empty() => return Reply::End,
        "help" | "?" | "commands" => return Reply::Help { says: help(session.training()) },
        "status" | "monitor" => return told(status(session)),
        "questions" => return told(questions(session.training())),
        "wait" => {
            return match rest.trim_end_matches(['s', ' ']).trim().parse::<f64>() {
                Ok(s) if s > 0.0 && s <= 600.0 => Reply::Wait { s },
                _ => Reply::Refused(Refusal {
                    why: Why::NotUnderstood,
                    says: "write `wait` and 1 to 600 seconds, as in `wait 10`".to_owned(),
                }),
            };
        }
        _ => {}
    }
    let (before, busy) = (session.seen().len(), session.busy_until_s());
    let act = match parse_in(session, line) {
        Ok(act) => act,
        Err(NotUnderstood::Word(word)) => return Reply::Refused(no_act(session.training(), &word)),
        Err(reason) => return Reply::Refused(reason.into()),
    };
    let answered = answered(session.training(), &act);
    match session.act(act) {
        Ok(()) => {
            let seen = session.seen()[before..].iter().map(|seen| seen.text.clone());
            let seen: Vec<String> = seen.collect();
            let begun = session.busy_until_s().filter(|_| session.busy_until_s() != busy);
            let says = match (answered, begun) {
                _ if !seen.is_empty() => seen.join(" "),
                (Some(answered), _) => answered,
                (None, Some(until_s)) => format!("Your hands are busy until {until_s:.0} s."),
                (None, None) => "Done.".to_owned(),
            };
            Reply::Done { says }
        }
        Err(reason) => Reply::Refused(reason.into()),
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
fn no_act(training: &Training, word: &str) -> Refusal {
    let offered = WORDS.iter().filter(|(name, ..)| training.offers.contains(name));
    let offered = offered.map(|(_, known, ..)| *known).chain(["status", "questions", "help"]);
    let offered: Vec<&str> = offered.collect();
    match near(word, &offered) {
        Some(near) => Refusal {
            why: Why::NotUnderstood,
            says: format!("`{word}` is no act; did you mean `{near}`?"),
        },
        None => NotUnderstood::Word(word.to_owned()).into(),
    }
}
