//! What a typed line asks for, and what it is answered.

use serde::Serialize;
use tidewright_scenario::fault::near;
use tidewright_scenario::format::{ActName, Training};

use super::hint::hint;
use super::says::{checks, help, parts, questions, status, steps};
use crate::alarms::{Alarm, alarms};
use crate::desk::typed::parse_in;
use crate::session::{Came, NotOpen, Session};
use crate::words::command::{NotUnderstood, WORDS};
use crate::words::text::{answered, said_act};

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
    /// An act that waits until hands are free.
    Waits {
        /// What was told of it.
        says: String,
        /// When hands are free at the earliest, s.
        until_s: f64,
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
    /// No act waits.
    NothingWaits,
    /// The machine cannot be set so.
    CannotBeSet,
}

impl Reply {
    /// What is to be told, if anything is.
    #[must_use]
    pub fn says(&self) -> Option<&str> {
        match self {
            Self::Told { says }
            | Self::Help { says }
            | Self::Done { says }
            | Self::Waits { says, .. } => Some(says),
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
            NotOpen::NotOffered | NotOpen::NotShown => Why::NotOffered,
            NotOpen::Ended => Why::Ended,
            NotOpen::Busy { .. } => Why::HandsBusy,
            NotOpen::Unknown(_) | NotOpen::NoSuchAnswer { .. } | NotOpen::NoSuchCheck { .. } => {
                Why::NoSuchQuestion
            }
            NotOpen::Again(_) | NotOpen::TooLate(_) => Why::TooLate,
            NotOpen::Joined(_)
            | NotOpen::Extubated
            | NotOpen::BelowPeep(_)
            | NotOpen::Setup(_)
            | NotOpen::Refused(_) => Why::CannotBeSet,
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
        "undo" | "back" if rest.is_empty() => return taken_back(session),
        "alarms" if rest.is_empty() => return told(set_alarms(session)),
        "parts" if rest.is_empty() && session.world().table.is_some() => {
            return told(parts(session));
        }
        "checks" if rest.is_empty() => return told(checks(session.training())),
        "steps" if rest.is_empty() => return told(steps(session.training())),
        "hint" if rest.is_empty() => return told(hint(session)),
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
        Err(NotUnderstood::Word(word)) => return begun(session, line, &word),
        Err(reason) => return Reply::Refused(reason.into()),
    };
    let answered = answered(session.training(), &act);
    match session.ask(act) {
        Ok(Came::Waits { until_s }) => {
            let says = format!(
                "It waits until your hands are free, at {until_s:.0} s or later; `undo` takes it \
                 back."
            );
            Reply::Waits { says, until_s }
        }
        Ok(Came::Done) => {
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

/// Takes back what waits.
fn taken_back(session: &mut Session) -> Reply {
    match session.take_back() {
        Some(act) => Reply::Told { says: format!("`{}` is taken back.", said_act(&act)) },
        None => Reply::Refused(Refusal {
            why: Why::NothingWaits,
            says: "nothing waits that could be taken back; what is done is done".to_owned(),
        }),
    }
}

fn set_alarms(session: &Session) -> String {
    let set: Vec<String> = alarms(session).iter().map(Alarm::in_words).collect();
    if set.is_empty() {
        return "No alarm is set; set one as in `alarm peak 20`.".to_owned();
    }
    format!("{}.", set.join("; "))
}

/// The line with its first word whole, where only one word on offer begins so.
fn begun(session: &mut Session, line: &str, word: &str) -> Reply {
    let training = session.training();
    let typed = word.to_ascii_lowercase();
    let begin: Vec<&str> =
        words(training).into_iter().filter(|known| known.starts_with(&typed)).collect();
    match begin[..] {
        [whole] => {
            let rest = line.get(word.len()..).unwrap_or_default();
            heed(session, &format!("{whole}{rest}"))
        }
        [] => Reply::Refused(no_act(training, word)),
        _ => {
            let ways: Vec<String> = begin.iter().map(|known| format!("`{known}`")).collect();
            let says = format!("`{word}` may be {}", ways.join(" or "));
            Reply::Refused(Refusal { why: Why::NotUnderstood, says })
        }
    }
}

/// The words that may be typed, but for those that end the session: no slip does that.
fn words(training: &Training) -> Vec<&'static str> {
    let offered = WORDS.iter().filter(|(name, ..)| match name {
        ActName::Answer => !training.questions.is_empty(),
        ActName::Predict => !training.predictions.is_empty(),
        ActName::SetAlarm => true,
        name => training.offers.contains(name),
    });
    let own = ["status", "questions", "help", "wait", "undo", "alarms", "hint"];
    let morning = [
        ("parts", training.table.is_some()),
        ("checks", !training.checks.is_empty()),
        ("steps", !training.steps.is_empty()),
    ];
    let morning = morning.into_iter().filter(|(_, there)| *there).map(|(word, _)| word);
    offered.map(|(_, word, ..)| *word).chain(own).chain(morning).collect()
}

/// What is told of a word that is none, with the one on offer that it is most like.
fn no_act(training: &Training, word: &str) -> Refusal {
    match near(word, &words(training)) {
        Some(near) => Refusal {
            why: Why::NotUnderstood,
            says: format!("`{word}` is no act; did you mean `{near}`?"),
        },
        None => NotUnderstood::Word(word.to_owned()).into(),
    }
}
