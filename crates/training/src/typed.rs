//! What is typed in a session, where the session knows what is meant.

use tidewright_scenario::format::{Act, Question};

use crate::command::{NotUnderstood, parse};
use crate::session::Session;

/// Reads an act as [`parse`] does; the question may be left out of an answer where
/// the lesson has only one, and the prediction while the session waits for it.
///
/// # Errors
/// [`NotUnderstood`]; with several questions open it names them.
pub fn parse_in(session: &Session, line: &str) -> Result<Act, NotUnderstood> {
    let mut words = line.split_whitespace();
    let (Some(word), Some(what), None) = (words.next(), words.next(), words.next()) else {
        return parse(line);
    };
    if word.eq_ignore_ascii_case("answer") && what.parse::<u32>().is_ok() {
        let open: Vec<&Question> = session.open_questions().collect();
        return match open[..] {
            [] if session.training().questions.is_empty() => {
                Err(NotUnderstood::Value("this lesson has no questions".to_owned()))
            }
            [] => Err(NotUnderstood::Value("every question has its answer already".to_owned())),
            // Where there are several, the last one may not be the one that is meant.
            [only] if session.training().questions.len() == 1 => {
                parse(&format!("answer {} {what}", only.id))
            }
            _ => {
                let ways = open.iter().map(|one| format!("`answer {} {what}`", one.id));
                let ways = ways.collect::<Vec<_>>().join(" or ");
                Err(NotUnderstood::Value(format!("to which question? Write {ways}")))
            }
        };
    }
    match session.waits_for() {
        Some(asked) if word.eq_ignore_ascii_case("predict") => {
            parse(&format!("predict {} {what}", asked.id))
        }
        _ => parse(line),
    }
}
