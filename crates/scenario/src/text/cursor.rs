//! A place in the text and the small steps that can be taken from it.

use crate::fault::{Fault, Faults, Problem};
use crate::text::{Dialect, Span};

/// A reading position that notes faults as it goes.
pub(super) struct Cursor<'a> {
    pub text: &'a str,
    pub at: usize,
    pub dialect: Dialect,
    pub faults: &'a mut Faults,
    /// Reading has been given up; no further fault means anything.
    pub given_up: bool,
    /// A text without end took the rest of its line along.
    pub cut_short: bool,
}

impl<'a> Cursor<'a> {
    pub fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    pub fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    pub fn step(&mut self) -> Option<char> {
        let next = self.peek()?;
        self.at += next.len_utf8();
        Some(next)
    }

    /// Steps over this text if it stands here.
    pub fn eat(&mut self, expected: &str) -> bool {
        let here = self.rest().starts_with(expected);
        if here {
            self.at += expected.len();
        }
        here
    }

    /// Steps over every character that fits and returns them.
    pub fn eat_while(&mut self, fits: impl Fn(char) -> bool) -> &'a str {
        let rest = self.rest();
        let end = rest.find(|c| !fits(c)).unwrap_or(rest.len());
        self.at += end;
        &rest[..end]
    }

    pub fn is_json(&self) -> bool {
        self.dialect == Dialect::Json
    }

    pub fn span_from(&self, start: usize) -> Span {
        Span::new(start, self.at)
    }

    /// The next character, or the end of the text, as a stretch to point at.
    pub fn here(&self) -> Span {
        Span::new(self.at, self.at + self.peek().map_or(0, char::len_utf8))
    }

    pub fn report(&mut self, at: Span, problem: Problem) {
        self.note(Fault::new(at.head(), problem));
    }

    pub fn note(&mut self, fault: Fault) {
        if !self.given_up {
            self.faults.push(fault);
        }
    }

    /// Reads nothing further, and notes nothing.
    pub fn give_up(&mut self) {
        self.given_up = true;
        self.at = self.text.len();
    }

    /// Notes what RON has and JSON has not: what it is, what JSON has, the mend.
    pub fn not_json(&mut self, at: Span, words: [&'static str; 3]) {
        let [what, expected, mend] = words;
        self.report(at, Problem::NotJson { what, expected, mend });
    }

    /// Notes what JSON has and RON has not: what it is, what RON has, the mend.
    pub fn not_ron(&mut self, at: Span, words: [&'static str; 3]) {
        let [what, expected, mend] = words;
        self.report(at, Problem::NotRon { what, expected, mend });
    }

    /// Steps over white space and comments.
    pub fn blanks(&mut self) {
        loop {
            self.eat_while(is_blank);
            let start = self.at;
            match self.peek() {
                Some('/') if self.eat("//") => {
                    self.eat_while(|c| c != '\n' && c != '\r');
                }
                Some('/') if self.eat("/*") => self.block_comment(start),
                Some(c) if c.is_whitespace() => {
                    self.step();
                    let problem = Problem::OddBlank { code: c };
                    self.report(self.span_from(start), problem);
                    continue;
                }
                _ => return,
            }
            if self.is_json() {
                let words = ["a comment", "no comment", "remove it, or save the file as RON"];
                self.not_json(self.span_from(start), words);
            }
        }
    }

    /// The rest of a `/*` comment; these may stand inside one another.
    fn block_comment(&mut self, start: usize) {
        let mut depth = 1;
        while depth > 0 {
            if self.eat("/*") {
                depth += 1;
            } else if self.eat("*/") {
                depth -= 1;
            } else if self.step().is_none() {
                self.report(Span::new(start, start + 2), Problem::OpenComment);
                self.given_up = true;
                return;
            }
        }
    }
}

fn is_blank(c: char) -> bool {
    matches!(c, ' ' | '\t' | '\n' | '\r')
}

/// Whether a bare word may start with this character.
pub(super) fn starts_word(c: char) -> bool {
    c == '_' || c.is_alphabetic()
}

/// Whether a bare word may go on with this character. A hyphen is never part of
/// a valid name, but reading `weight-kg` as one word lets us suggest `weight_kg`.
pub(super) fn in_word(c: char) -> bool {
    c == '_' || c == '-' || c.is_alphanumeric()
}
