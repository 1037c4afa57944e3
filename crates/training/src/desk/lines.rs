//! A session in plain lines: time passes only when a line says so, so the same lines
//! always give the same session.

use super::says::{came_of, help, opening, questions, status, to_predict};
use crate::alarms::alarms;
use crate::session::{Session, SessionError};

/// How time passes in a session in lines.
pub const TIME_WORDS: &str = "  wait S                        S seconds pass, as in `wait 10`\n  \
    (an empty line)               wait for the end of the next breath\n";

/// Longest wait for the end of a breath, s: one under way may take a whole time limit
/// and more.
const LONGEST_BREATH_S: f64 = 60.0;

/// How closely the end of a breath is looked for, s.
const LOOK_S: f64 = 0.1;

/// What is told before the first line.
#[must_use]
pub fn beginning(session: &Session) -> String {
    let training = session.training();
    format!(
        "{}\n{}{TIME_WORDS}\n{}\n{}\n",
        opening(session),
        help(training),
        questions(training),
        status(session)
    )
}

/// Lets time pass until then, s, and tells what was seen.
///
/// # Errors
/// [`SessionError`]: a run that cannot go on.
pub fn waited(session: &mut Session, until_s: f64) -> Result<String, SessionError> {
    let before = (session.seen().len(), session.asked().len());
    session.advance(until_s, &mut |_| {})?;
    Ok(told(session, before))
}

/// Lets time pass to the end of the next breath, and tells what was seen.
///
/// # Errors
/// [`SessionError`]: a run that cannot go on.
pub fn next_breath(session: &mut Session) -> Result<String, SessionError> {
    let before = (session.seen().len(), session.asked().len());
    // In standby the patient's own breaths are all there are.
    let count = |session: &Session| {
        session.rows().len() + session.gas_breaths().iter().filter(|breath| breath.own).count()
    };
    let breaths = count(session);
    let most_s = session.now_s() + LONGEST_BREATH_S;
    while count(session) == breaths
        && session.ended().is_none()
        && session.now_s() < most_s
        && session.waits_for().is_none()
    {
        let next_s = session.now_s() + LOOK_S;
        session.advance(next_s, &mut |_| {})?;
    }
    Ok(told(session, before))
}

fn told(session: &Session, (seen, asked): (usize, usize)) -> String {
    let waited = session.asked()[asked..].iter();
    let mut text: String = waited.map(|one| came_of(one) + "\n").collect();
    text += &told_since(session, seen);
    for alarm in alarms(session).iter().filter(|one| one.sounds.is_some()) {
        text += &format!("\n{}.", alarm.in_words());
    }
    text
}

/// What was seen after the first `before` of [`seen`](crate::bedside::Bedside::seen), and the status.
#[must_use]
pub fn told_since(session: &Session, before: usize) -> String {
    let mut text = String::new();
    for seen in &session.seen()[before..] {
        text += &format!("{:.1} s: {}\n", seen.at_s, seen.text);
    }
    text += &status(session);
    if let Some(asked) = session.waits_for() {
        text += &format!("\nPredict before you go on: {}", to_predict(asked));
    }
    text
}
