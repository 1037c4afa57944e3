//! The page of Tidewright: what a browser asks, answered by the same crates as the
//! terminal.
//!
//! A page puts a question as JSON and gets JSON back; only the curves of a live session
//! pass as plain numbers. `door.rs` is what a browser sees of it.
//!
//! ```
//! let mut page = tidewright_web::Page::default();
//! let answer = page.answer(br#"{"ask": "begin", "lesson": "juno", "seed": 7}"#);
//! assert!(answer.contains("\"title\""));
//! page.answer(br#"{"ask": "go"}"#);
//! page.advance(2.0);
//! let answer = page.answer(br#"{"ask": "enter", "line": "listen"}"#);
//! assert!(answer.contains("\"reply\":\"done\""));
//! ```

mod ask;
#[cfg(feature = "whole")]
mod bench;
#[cfg(feature = "whole")]
mod class;
#[cfg(target_family = "wasm")]
mod door;
mod exam;
mod explore;
#[cfg(feature = "whole")]
mod figures;
mod look_up;
mod practise;
mod shelf;
mod texts;
mod wrong;

pub use practise::Passed;

use practise::Practice;

/// What a page holds: the session under way, if there is one.
#[derive(Debug, Default)]
pub struct Page {
    practice: Option<Practice>,
}

impl Page {
    /// Answers a question, both JSON. What cannot be answered is told as
    /// `{"wrong": {"what": …, "mend": …}}`, a text with faults as `{"faults": […]}`.
    pub fn answer(&mut self, question: &[u8]) -> String {
        match ask::answered(&mut self.practice, question) {
            Ok(answer) => answer.to_string(),
            Err(wrong) => wrong.to_json().to_string(),
        }
    }

    /// Lets time pass in the session, s, if its clock runs.
    pub fn advance(&mut self, passed_s: f64) -> Passed {
        self.practice.as_mut().map_or(Passed::Nothing, |practice| practice.pass(passed_s))
    }

    /// The curves of the session for who draws them: the time, how much of it is shown,
    /// s, how many curves there are; then of each how many points, and these as time
    /// and value in turn.
    pub fn points(&self, into: &mut Vec<f64>) {
        into.clear();
        if let Some(practice) = &self.practice {
            practice.points(into);
        }
    }
}
