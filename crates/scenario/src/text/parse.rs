//! Blocks, lists and what stands between their entries.

use super::cursor::Cursor;
use super::{Block, Dialect, Entry, Kind, Name, Node, Span};
use crate::fault::{Fault, Faults, Problem};

/// Deepest nesting of brackets; the format itself needs fewer than ten.
const DEEPEST: usize = 32;

/// Reads a whole text, noting every fault of its writing.
pub fn parse(text: &str, dialect: Dialect, faults: &mut Faults) -> Node {
    let cursor = Cursor { text, at: 0, dialect, faults, given_up: false, cut_short: false };
    let mut parser = Parser { cursor, open: Vec::new() };
    parser.extensions();
    if dialect == Dialect::Json && !parser.cursor.rest().starts_with('{') {
        let (at, length) = (parser.cursor.here(), text.len());
        let mend = "begin with `{`, or if this is RON, let the file name end in `.ron`";
        parser.cursor.not_json(at, ["this beginning", "`{`", mend]);
        return Node { span: Span::new(0, length), kind: Kind::Broken };
    }
    let root = parser.value("a scenario");
    parser.cursor.blanks();
    if parser.cursor.peek().is_some() {
        let at = parser.cursor.here();
        let found = parser.cursor.rest().trim_end().to_owned();
        parser.cursor.report(at, Problem::TextAfterEnd { found });
    }
    root
}

struct Parser<'a> {
    cursor: Cursor<'a>,
    /// The brackets that are open, outermost first.
    open: Vec<(char, usize)>,
}

impl Parser<'_> {
    /// `#![enable(implicit_some)]` at the start of a RON file: always on here.
    fn extensions(&mut self) {
        const KNOWN: [&str; 4] = [
            "implicit_some",
            "unwrap_newtypes",
            "unwrap_variant_newtypes",
            "explicit_struct_names",
        ];
        self.cursor.blanks();
        let start = self.cursor.at;
        while !self.cursor.is_json() && self.cursor.eat("#![enable(") {
            let inside = self.cursor.eat_while(|c| c != ')');
            let known = inside.split(',').all(|word| KNOWN.contains(&word.trim()));
            if !(self.cursor.eat(")]") && known) {
                let found = self.cursor.text[start..self.cursor.at].to_owned();
                let expected = "`#![enable(implicit_some)]`, or nothing";
                let at = self.cursor.span_from(start);
                self.cursor.report(at, Problem::Unexpected { found, expected: expected.into() });
            }
            self.cursor.blanks();
        }
    }

    /// One value. `wanted` says what stands here by right, for the fault.
    fn value(&mut self, wanted: &str) -> Node {
        self.cursor.blanks();
        let start = self.cursor.at;
        match self.cursor.peek() {
            Some('"' | '\'') => self.cursor.quoted(),
            Some('0'..='9' | '+' | '-' | '.') => self.cursor.number(),
            Some('(' | '{') => self.block(),
            Some('[') => self.list(),
            Some('r') if !self.cursor.is_json() => match self.cursor.raw_text() {
                Some(text) => text,
                None => self.word(),
            },
            Some(_) if self.cursor.at_word() => self.word(),
            found => {
                let stop = found.is_none_or(|c| matches!(c, ',' | ')' | '}' | ']'));
                let at = self.cursor.here();
                let problem = match found {
                    None => Problem::EndsEarly { expected: wanted.into() },
                    Some(c) => Problem::Unexpected { found: c.into(), expected: wanted.into() },
                };
                self.cursor.report(at, problem);
                if !stop {
                    self.cursor.step();
                }
                Node { span: self.cursor.span_from(start), kind: Kind::Broken }
            }
        }
    }

    /// `Cat`, or `Leak(…)`.
    fn word(&mut self) -> Node {
        let name = self.cursor.word();
        let start = name.span.start;
        let after_word = self.cursor.at;
        self.cursor.blanks();
        if self.cursor.peek() == Some('(') {
            let block = self.block();
            let span = self.cursor.span_from(start);
            return Node { span, kind: Kind::Named(name, Box::new(block)) };
        }
        self.cursor.at = after_word;
        Node { span: name.span, kind: Kind::Word(name.text) }
    }

    fn block(&mut self) -> Node {
        let start = self.cursor.at;
        let json = self.cursor.is_json();
        let (bracket, at) = (self.cursor.peek(), self.cursor.here());
        if bracket == Some('(') && json {
            let words = ["a round bracket", "`{`", "write `{\"name\": value}`"];
            self.cursor.not_json(at, words);
        }
        if bracket == Some('{') && !json {
            self.cursor.not_ron(at, ["a curly bracket", "`(`", "write `(name: value)`"]);
        }
        let (entries, broken) = self.entries(true);
        let span = self.cursor.span_from(start);
        Node { span, kind: Kind::Block(Block { entries, broken }) }
    }

    fn list(&mut self) -> Node {
        let start = self.cursor.at;
        let (entries, _) = self.entries(false);
        let items = entries.into_iter().map(|entry| entry.value).collect();
        Node { span: self.cursor.span_from(start), kind: Kind::List(items) }
    }

    /// Everything from an opening bracket to its closing one, and whether
    /// something of it is lost.
    fn entries(&mut self, keyed: bool) -> (Vec<Entry>, bool) {
        let opening = self.cursor.at;
        let bracket = self.cursor.step().unwrap_or('(');
        if self.open.len() >= DEEPEST {
            self.cursor.report(Span::new(opening, opening + 1), Problem::TooDeep { most: DEEPEST });
            self.cursor.give_up();
            return (Vec::new(), true);
        }
        self.open.push((bracket, opening));
        let mut entries = Vec::new();
        let mut lost = false;
        let closed = loop {
            self.cursor.blanks();
            match self.cursor.peek() {
                None => break false,
                Some(c @ (')' | ']' | '}')) => break self.close(c),
                Some(_) => {}
            }
            entries.push(self.entry(keyed));
            lost |= std::mem::take(&mut self.cursor.cut_short);
            self.separator(&entries, keyed);
        };
        self.open.pop();
        if !closed {
            let at = Span::new(opening, opening + 1);
            self.cursor.report(at, Problem::Unclosed { bracket, closing: partner(bracket) });
            // At the end of the text one such fault says it all.
            self.cursor.given_up |= self.cursor.peek().is_none();
        }
        lost |= entries
            .iter()
            .any(|entry| entry.key.is_none() && matches!(entry.value.kind, Kind::Broken));
        (entries, lost || !closed)
    }

    /// Meets a closing bracket; false if it belongs to a bracket further out.
    fn close(&mut self, found: char) -> bool {
        let Some(&(bracket, opening)) = self.open.last() else {
            return false;
        };
        let expected = partner(bracket);
        if found != expected {
            let outer = &self.open[..self.open.len() - 1];
            if outer.iter().any(|&(outer, _)| partner(outer) == found) {
                return false;
            }
            let at = self.cursor.here();
            let opened = Span::new(opening, opening + 1);
            let problem = Problem::WrongBracket { found, expected };
            self.cursor.note(Fault::new(at, problem).and(opened, "opened here"));
        }
        self.cursor.step();
        true
    }

    /// `name: value`, or a value alone.
    fn entry(&mut self, keyed: bool) -> Entry {
        let json = self.cursor.is_json();
        let first = self.value(if keyed { "`name: value`" } else { "a value" });
        let name = match &first.kind {
            Kind::Word(text) | Kind::Text(text) => Name { text: text.clone(), span: first.span },
            _ => return Entry { key: None, value: first },
        };
        if !self.colon(&name, keyed) {
            return Entry { key: None, value: self.quoted_in_json(first) };
        }
        if !keyed {
            return Entry { key: None, value: Node { kind: Kind::Broken, ..first } };
        }
        match first.kind {
            Kind::Word(_) if json => {
                let words = ["a name without quotes", "`\"`", "put the name in double quotes"];
                self.cursor.not_json(name.span, words);
            }
            Kind::Text(_) if !json => {
                let words = ["a name in quotes", "the name alone", "write it without quotes"];
                self.cursor.not_ron(name.span, words);
            }
            _ => {}
        }
        let value = self.value(&format!("a value for `{}`", Problem::shown(&name.text)));
        Entry { key: Some(name), value: self.quoted_in_json(value) }
    }

    /// Notes a bare word in JSON, which has only three of them.
    fn quoted_in_json(&mut self, value: Node) -> Node {
        let Kind::Word(word) = &value.kind else { return value };
        if self.cursor.is_json() && !matches!(word.as_str(), "true" | "false" | "null") {
            let words = ["a word without quotes", "`\"`", "put the word in double quotes"];
            self.cursor.not_json(value.span, words);
        }
        value
    }

    /// Meets the colon after a name, or what was written in its place.
    fn colon(&mut self, name: &Name, keyed: bool) -> bool {
        let after_name = self.cursor.at;
        self.cursor.blanks();
        let at = self.cursor.here();
        match self.cursor.peek() {
            Some(':') => {
                self.cursor.step();
                if !keyed {
                    self.cursor.report(at, Problem::NameInList { name: name.text.clone() });
                    self.value("a value");
                }
                return true;
            }
            Some('=') if keyed => {
                self.cursor.step();
                self.cursor.report(at, Problem::EqualsSign { name: name.text.clone() });
                return true;
            }
            // `weight_kg 4.0`: field names are in small letters, variants are not.
            Some(c)
                if keyed
                    && name.text.starts_with(|c: char| c.is_lowercase())
                    && (c == '"' || c == '[' || c.is_alphanumeric() || c == '-')
                    && !self.cursor.text[after_name..self.cursor.at].contains('\n') =>
            {
                let at = Span::new(name.span.start, name.span.end);
                self.cursor.report(at, Problem::MissingColon { name: name.text.clone() });
                return true;
            }
            _ => {}
        }
        self.cursor.at = after_name;
        false
    }

    /// Meets the comma after an entry, the closing bracket, or a mistake.
    fn separator(&mut self, entries: &[Entry], keyed: bool) {
        let Some(last) = entries.last() else { return };
        let end = self.cursor.at;
        self.cursor.blanks();
        match self.cursor.peek() {
            Some(',') => {
                let at = self.cursor.here();
                self.cursor.step();
                self.cursor.blanks();
                if self.cursor.is_json() && matches!(self.cursor.peek(), Some(']' | '}')) {
                    let words = ["a comma before a closing bracket", "no comma", "remove it"];
                    self.cursor.not_json(at, words);
                }
            }
            None | Some(')' | ']' | '}') => {}
            Some(';') => {
                let at = self.cursor.here();
                self.cursor.step();
                self.cursor.report(at, Problem::Semicolon);
            }
            Some(_) if matches!(last.value.kind, Kind::Broken) => {
                if !self.cursor.text[end..self.cursor.at].contains('\n') {
                    self.skip();
                }
            }
            Some(_) if self.unit_after(last, end) => {}
            Some(':' | '=') if keyed => {
                let at = self.cursor.here();
                self.cursor.report(
                    at,
                    Problem::Unexpected { found: ":".into(), expected: "a comma".into() },
                );
                self.skip();
            }
            Some(_) => self.cursor.report(Span::new(end, end), Problem::MissingComma),
        }
    }

    /// `2.2 L/min`: a unit behind a number on the same line.
    fn unit_after(&mut self, last: &Entry, end: usize) -> bool {
        let at_unit = self.cursor.peek().is_some_and(|c| c.is_alphabetic() || c == '%');
        let same_line = !self.cursor.text[end..self.cursor.at].contains('\n');
        let rest = self.cursor.rest();
        let unit =
            &rest[..rest.find([',', ')', ']', '}', ':', '(', '\n', '\r']).unwrap_or(rest.len())];
        let names_follow = rest[unit.len()..].starts_with([':', '(']);
        if !matches!(last.value.kind, Kind::Number(_)) || !at_unit || !same_line || names_follow {
            return false;
        }
        let number = self.cursor.text[last.value.span.start..last.value.span.end].to_owned();
        let unit = unit.trim_end().to_owned();
        self.cursor.at += unit.len();
        let at = Span::new(last.value.span.start, self.cursor.at);
        self.cursor.report(at, Problem::NumberWithUnit { number, unit });
        self.cursor.blanks();
        self.cursor.eat(",");
        true
    }

    /// Goes on behind the next comma, or at the next bracket or line.
    fn skip(&mut self) {
        self.cursor.eat_while(|c| !matches!(c, ',' | '(' | ')' | '[' | ']' | '{' | '}' | '\n'));
        self.cursor.eat(",");
    }
}

fn partner(bracket: char) -> char {
    match bracket {
        '(' => ')',
        '[' => ']',
        _ => '}',
    }
}
