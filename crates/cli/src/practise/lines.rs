//! A session in plain lines, for pipes and screen readers.

use std::io::{self, BufRead, IsTerminal as _, Read as _};
use std::time::Duration;

use tidewright_training::desk::{Reply, TIME_WORDS, beginning, ending, heed, next_breath, waited};
use tidewright_training::{Session, SessionError};

use super::Log;
use crate::files::output;
use crate::files::problem::Problem;

/// Longest line that anything can be meant by, bytes.
const LONGEST_LINE: u64 = 4096;
/// How long the news that a terminal was closed may be on its way behind its last line.
const NEWS_TAKES: Duration = Duration::from_millis(300);

/// Runs the session to its end.
pub fn in_lines(session: &mut Session, mut input: impl BufRead, log: &Log) -> Result<(), Problem> {
    output::print(&output::wrapped(&beginning(session)))?;
    while let Some(line) = next_line(&mut input)? {
        let failed = |error: SessionError| Problem::usage(error.to_string(), "check the scenario");
        let mut told = match line {
            Line::NotText => "That line is not text in UTF-8; nothing was done.".to_owned(),
            Line::TooLong => "That line is too long to mean anything; nothing was done.".to_owned(),
            Line::Text(line) => match heed(session, &line) {
                Reply::End => break,
                Reply::Help { says } => says + TIME_WORDS,
                Reply::Told { says } | Reply::Done { says } | Reply::Waits { says, .. } => says,
                Reply::Refused(refusal) => refusal.says,
                Reply::Wait { s } => waited(session, session.now_s() + s).map_err(failed)?,
                Reply::Nothing => next_breath(session).map_err(failed)?,
            },
        };
        if let Some(of_log) = log.keep(session) {
            told = format!("{of_log}\n{told}");
        }
        output::print(&output::wrapped(&format!("{}\n", told.trim_end())))?;
        if session.ended().is_some() {
            break;
        }
    }
    output::print(&format!("{}\n", ending(session)))
}

/// A line as it came in.
enum Line {
    Text(String),
    NotText,
    TooLong,
}

fn next_line(input: &mut impl BufRead) -> Result<Option<Line>, Problem> {
    let failed = |error: io::Error| Problem::Read {
        what: format!("cannot read standard input: {error}"),
        mend: None,
    };
    let mut bytes = Vec::new();
    input.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut bytes).map_err(failed)?;
    if bytes.is_empty() {
        if io::stdin().is_terminal() {
            // A terminal that was closed ends its lines first and is told of later.
            std::thread::sleep(NEWS_TAKES);
        }
        return Ok(None);
    }
    if bytes.len() as u64 == LONGEST_LINE && !bytes.ends_with(b"\n") {
        input.skip_until(b'\n').map_err(failed)?;
        return Ok(Some(Line::TooLong));
    }
    let text = String::from_utf8(bytes);
    Ok(Some(text.map_or(Line::NotText, |text| Line::Text(text.trim_end().to_owned()))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_lost_behind_one_that_is_no_text_or_too_long() {
        let mut bytes = b"look\r\n\xff\xfe\n\n".to_vec();
        bytes.extend(std::iter::repeat_n(b'x', 20_000));
        bytes.extend(b"\nlisten");
        let mut input = &*bytes;
        let mut told = Vec::new();
        while let Ok(Some(line)) = next_line(&mut input) {
            told.push(match line {
                Line::Text(text) => text,
                Line::NotText => "no text".to_owned(),
                Line::TooLong => "too long".to_owned(),
            });
        }
        assert_eq!(told, ["look", "no text", "", "too long", "listen"]);
    }
}
