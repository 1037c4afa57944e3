//! What is typed in a session, where the session knows what is meant.

use tidewright_scenario::format::{Act, Question};

use crate::session::Session;
use crate::words::command::{NotUnderstood, parse};

/// Reads an act as [`parse`] does; the question may be left out of an answer where
/// the lesson has only one, an answer may be typed by a part of its words that no other
/// has, and the prediction may be left out while the session waits for it.
///
/// # Errors
/// [`NotUnderstood`]; with several questions open it names them.
pub fn parse_in(session: &Session, line: &str) -> Result<Act, NotUnderstood> {
    let line = line.trim();
    let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
    let rest = rest.trim();
    if word.eq_ignore_ascii_case("answer") && !rest.is_empty() {
        return answer(session, rest);
    }
    match session.waits_for() {
        Some(asked) if word.eq_ignore_ascii_case("predict") && !rest.contains(' ') => {
            parse(&format!("predict {} {rest}", asked.id))
        }
        _ => parse(line),
    }
}

fn answer(session: &Session, typed: &str) -> Result<Act, NotUnderstood> {
    let all = &session.training().questions;
    let (first, more) = typed.split_once(' ').unwrap_or((typed, ""));
    let named = all.iter().find(|one| one.id.as_str().eq_ignore_ascii_case(first));
    if let Some(question) = named.filter(|_| !more.trim().is_empty()) {
        return chosen(question, more.trim());
    }
    let open: Vec<&Question> = session.open_questions().collect();
    match open[..] {
        [] if all.is_empty() => {
            Err(NotUnderstood::Value("this lesson has no questions".to_owned()))
        }
        [] => Err(NotUnderstood::Value("every question has its answer already".to_owned())),
        // Where there are several, the last one may not be the one that is meant.
        [only] if all.len() == 1 => chosen(only, typed),
        _ if more.is_empty() || first.parse::<u32>().is_ok() => {
            let ways = open.iter().map(|one| format!("`answer {} {typed}`", one.id));
            let ways = ways.collect::<Vec<_>>().join(" or ");
            Err(NotUnderstood::Value(format!("to which question? Write {ways}")))
        }
        _ => parse(&format!("answer {typed}")),
    }
}

/// The answer to a question by its number, or by a part of its words.
fn chosen(question: &Question, typed: &str) -> Result<Act, NotUnderstood> {
    let by_number = |number: &str| parse(&format!("answer {} {number}", question.id));
    if typed.parse::<f64>().is_ok() {
        return by_number(typed);
    }
    let wanted = typed.to_lowercase();
    let answers = question.answers.iter().enumerate();
    let meant: Vec<usize> = answers
        .filter(|(_, answer)| answer.as_str().to_lowercase().contains(&wanted))
        .map(|(index, _)| index + 1)
        .collect();
    match meant[..] {
        [only] => by_number(&only.to_string()),
        // Reading it tells how an answer is written.
        [] => by_number(typed),
        _ => {
            let ways = meant.iter().map(usize::to_string).collect::<Vec<_>>().join(" or ");
            Err(NotUnderstood::Value(format!("`{typed}` may be answer {ways}")))
        }
    }
}
