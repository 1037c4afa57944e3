//! A session in plain lines, for pipes and screen readers.

use std::io::BufRead;

use tidewright_training::desk::{Reply, TIME_WORDS, beginning, ending, heed, next_breath, waited};
use tidewright_training::{Session, SessionError};

use crate::output;
use crate::problem::Problem;

/// Runs the session to its end.
pub fn in_lines(session: &mut Session, input: impl BufRead) -> Result<(), Problem> {
    output::print(&output::wrapped(&beginning(session)))?;
    for line in input.lines() {
        let line = line.map_err(|error| Problem::Read {
            what: format!("cannot read standard input: {error}"),
            mend: None,
        })?;
        let failed = |error: SessionError| Problem::usage(error.to_string(), "check the scenario");
        let told = match heed(session, &line) {
            Reply::End => break,
            Reply::Help { says } => says + TIME_WORDS,
            Reply::Told { says } | Reply::Done { says } => says,
            Reply::Refused(refusal) => refusal.says,
            Reply::Wait { s } => waited(session, session.now_s() + s).map_err(failed)?,
            Reply::Nothing => next_breath(session).map_err(failed)?,
        };
        output::print(&output::wrapped(&format!("{}\n", told.trim_end())))?;
        if session.ended().is_some() {
            break;
        }
    }
    output::print(&format!("{}\n", ending(session)))
}
