//! A session in plain lines, for pipes and screen readers. Time passes only when
//! a line says so, so the same lines always give the same session.

use std::io::BufRead;

use tidewright_training::{Session, SessionError};

use super::{Wish, ending, heed, help, opening, questions, status};
use crate::output;
use crate::problem::Problem;

/// How time passes here.
const TIME_WORDS: &str = "  wait S                        let S seconds pass, as in `wait 10`\n  \
    (an empty line)               wait for the end of the next breath\n";

/// Runs the session to its end.
pub fn in_lines(session: &mut Session, input: impl BufRead) -> Result<(), Problem> {
    let training = session.training();
    let start = format!(
        "{}\n{}{TIME_WORDS}\n{}\n{}\n",
        opening(session),
        help(training),
        questions(training),
        status(session)
    );
    output::print(&output::wrapped(&start))?;
    for line in input.lines() {
        let line = line.map_err(|error| Problem::Read {
            what: format!("cannot read standard input: {error}"),
            mend: None,
        })?;
        let failed = |error: SessionError| Problem::usage(error.to_string(), "check the scenario");
        let told = match heed(session, &line) {
            Wish::End => break,
            Wish::Told(text) if text == help(session.training()) => text + TIME_WORDS,
            Wish::Told(text) | Wish::Done(text) => text,
            Wish::Wait(s) => waited(session, session.now_s() + s).map_err(failed)?,
            Wish::Nothing => next_breath(session).map_err(failed)?,
        };
        output::print(&output::wrapped(&format!("{}\n", told.trim_end())))?;
        if session.ended().is_some() {
            break;
        }
    }
    output::print(&format!("{}\n", ending(session)))
}

fn waited(session: &mut Session, until_s: f64) -> Result<String, SessionError> {
    let before = session.seen().len();
    session.advance(until_s, &mut |_| {})?;
    Ok(told(session, before))
}

fn next_breath(session: &mut Session) -> Result<String, SessionError> {
    let before = session.seen().len();
    // In standby the patient's own breaths are all there are.
    let count = |session: &Session| {
        session.rows().len() + session.gas_breaths().iter().filter(|breath| breath.own).count()
    };
    let breaths = count(session);
    // A breath under way may take a whole time limit and more: 60 s at most.
    let most_s = session.now_s() + 60.0;
    while count(session) == breaths
        && session.ended().is_none()
        && session.now_s() < most_s
        && session.waits_for().is_none()
    {
        let next_s = session.now_s() + 0.1;
        session.advance(next_s, &mut |_| {})?;
    }
    Ok(told(session, before))
}

fn told(session: &Session, before: usize) -> String {
    let mut text = String::new();
    for seen in &session.seen()[before..] {
        text += &format!("{:.1} s: {}\n", seen.at_s, seen.text);
    }
    text += &status(session);
    if let Some(asked) = session.waits_for() {
        let (id, asks) = (&asked.id, &asked.asks);
        text += &format!("\nPredict before you go on: {asks} Type: predict {id} up|same|down");
    }
    text
}
