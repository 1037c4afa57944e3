//! Numbers, texts and words.

use super::cursor::{Cursor, in_word, starts_word};
use super::{Kind, Name, Node, Span};
use crate::fault::Problem;

impl Cursor<'_> {
    /// A bare word; the next character must start one.
    pub fn word(&mut self) -> Name {
        let start = self.at;
        let text = self.eat_while(in_word).to_owned();
        let span = self.span_from(start);
        Name { text, span }
    }

    /// A number; the next character must be a digit, a sign or a point.
    pub fn number(&mut self) -> Node {
        let start = self.at;
        self.eat_number();
        let number = &self.text[start..self.at];
        let rest = self.rest();
        let of_unit = |c: char| c == '/' || c == '%' || c == '·' || in_word(c);
        let tail = &rest[..rest.find(|c| !of_unit(c)).unwrap_or(rest.len())];
        // A comment may follow a number without a space between them; the star of one
        // stands behind what may be of a unit.
        let opens = tail.ends_with('/') && rest[tail.len()..].starts_with('*');
        let opens = opens.then(|| tail.len() - 1);
        let comment = tail.find("//").into_iter().chain(opens).min();
        let tail = tail[..comment.unwrap_or(tail.len())].to_owned();
        self.at += tail.len();
        let span = self.span_from(start);
        let plain = number.replace('_', "");
        let value = plain.parse::<f64>().ok().filter(|_| well_formed(number));
        let kind = match value {
            Some(value) if tail.is_empty() => {
                if self.is_json() && !is_json_number(number) {
                    let mend =
                        "write digits before and after the point, no `+`, no `_`, no leading zeros";
                    self.not_json(span, ["this way to write a number", "a number like 0.5", mend]);
                }
                Kind::Number(value + 0.0) // no negative zero
            }
            Some(value) if tail.starts_with(|c: char| c.is_alphabetic() || c == '%') => {
                let number = number.to_owned();
                let unit = tail;
                self.report(span, Problem::NumberWithUnit { number, unit });
                Kind::Number(value + 0.0)
            }
            _ => {
                let found = self.text[span.start..span.end].to_owned();
                self.report(span, Problem::BadNumber { found });
                Kind::Broken
            }
        };
        Node { span, kind }
    }

    fn eat_number(&mut self) {
        if matches!(self.peek(), Some('+' | '-')) {
            self.step();
        }
        self.eat_while(|c| c.is_ascii_digit() || c == '.' || c == '_');
        let exponent = self.rest().strip_prefix(['e', 'E']);
        if let Some(digits) = exponent.map(|e| e.strip_prefix(['+', '-']).unwrap_or(e))
            && digits.starts_with(|c: char| c.is_ascii_digit())
        {
            self.at = self.text.len() - digits.len();
            self.eat_while(|c| c.is_ascii_digit());
        }
    }

    /// A text; the next character must be `"`, or `'` by mistake.
    pub fn quoted(&mut self) -> Node {
        let start = self.at;
        let quote = self.step().unwrap_or('"');
        let opening = self.span_from(start);
        if quote == '\'' {
            self.report(opening, Problem::SingleQuote);
        }
        let line_end = self.at + self.rest().find(['\n', '\r']).unwrap_or(self.rest().len());
        let noted = self.faults.count();
        let mut text = String::new();
        loop {
            let piece = self.at;
            match self.step() {
                Some(c) if c == quote => break,
                Some('\\') => text.extend(self.escape(piece)),
                Some('\n' | '\r') if self.is_json() => {
                    return self.open_text(start, line_end, noted);
                }
                Some(c) => text.push(c),
                None => return self.open_text(start, line_end, noted),
            }
        }
        let span = self.span_from(start);
        // A closing quote that was forgotten shows as a text over several lines with
        // something strange behind it, or as one that stops where the next begins.
        let over_lines = self.at > line_end && !self.ends_well();
        let at_the_next = self.at_word() && text.trim_end().ends_with([',', ':', '[', '(', '{']);
        if over_lines || at_the_next {
            return self.open_text(start, line_end, noted);
        }
        Node { span, kind: Kind::Text(text) }
    }

    /// Whether what follows may follow a value.
    fn ends_well(&self) -> bool {
        let rest = self.rest().trim_start();
        rest.is_empty() || rest.starts_with([',', ')', ']', '}', ':', '/'])
    }

    /// A text whose closing quote was not found: read on at the end of its line, or
    /// not at all where the line opens or closes a bracket around the text.
    fn open_text(&mut self, start: usize, line_end: usize, noted: usize) -> Node {
        self.faults.forget_after(noted);
        self.at = line_end;
        self.cut_short = true;
        self.report(Span::new(start, start + 1), Problem::OpenText);
        let span = self.span_from(start);
        if !balanced(&self.text[start..line_end]) {
            self.give_up();
        }
        Node { span, kind: Kind::Broken }
    }

    /// The character after a backslash.
    fn escape(&mut self, start: usize) -> Option<char> {
        let json = self.is_json();
        let meant = match self.step() {
            Some(c @ ('"' | '\\')) => Some(c),
            Some('n') => Some('\n'),
            Some('t') => Some('\t'),
            Some('r') => Some('\r'),
            Some('/') if json => Some('/'),
            Some('b') if json => Some('\u{8}'),
            Some('f') if json => Some('\u{c}'),
            Some('u') if json => self.json_unicode(),
            Some('u') => self.ron_unicode(),
            Some('\'') if !json => Some('\''),
            Some('0') if !json => Some('\0'),
            Some('x') if !json => self.hex(2).and_then(char::from_u32),
            _ => None,
        };
        if meant.is_none() {
            let found = self.text[start..self.at].to_owned();
            self.report(self.span_from(start), Problem::BadEscape { found });
        }
        meant
    }

    fn hex(&mut self, digits: usize) -> Option<u32> {
        let hex = self.rest().get(..digits)?;
        if !hex.bytes().all(|b| b.is_ascii_hexdigit()) {
            return None;
        }
        self.at += digits;
        u32::from_str_radix(hex, 16).ok()
    }

    /// `{1F431}` after `\u`.
    fn ron_unicode(&mut self) -> Option<char> {
        if !self.eat("{") {
            return None;
        }
        let hex = self.eat_while(|c| c.is_ascii_hexdigit());
        let code = u32::from_str_radix(hex, 16).ok();
        (self.eat("}") && hex.len() <= 6).then_some(())?;
        char::from_u32(code?)
    }

    /// `D83D` after `\u`, and its second half where there must be one.
    fn json_unicode(&mut self) -> Option<char> {
        let first = self.hex(4)?;
        if !(0xD800..0xDC00).contains(&first) {
            return char::from_u32(first);
        }
        let second = if self.eat("\\u") { self.hex(4)? } else { return None };
        let low = second.checked_sub(0xDC00).filter(|&low| low < 0x400)?;
        char::from_u32(0x1_0000 + ((first - 0xD800) << 10) + low)
    }

    /// `r"…"` or `r#"…"#`, if that is what stands here.
    pub fn raw_text(&mut self) -> Option<Node> {
        let start = self.at;
        let after = self.rest().strip_prefix('r')?;
        let hashes = after.len() - after.trim_start_matches('#').len();
        let body = after[hashes..].strip_prefix('"')?;
        let closing = format!("\"{}", "#".repeat(hashes));
        let Some(end) = body.find(&closing) else {
            let line_end = start + self.rest().find(['\n', '\r']).unwrap_or(self.rest().len());
            let noted = self.faults.count();
            return Some(self.open_text(start, line_end, noted));
        };
        let text = body[..end].to_owned();
        self.at = self.text.len() - body.len() + end + closing.len();
        Some(Node { span: self.span_from(start), kind: Kind::Text(text) })
    }

    /// Whether a word starts here.
    pub fn at_word(&self) -> bool {
        self.peek().is_some_and(starts_word)
    }
}

/// Whether every bracket that is opened is closed, and no other.
fn balanced(line: &str) -> bool {
    let mut depth = 0_usize;
    for c in line.chars() {
        depth = match c {
            '(' | '[' | '{' => depth + 1,
            ')' | ']' | '}' if depth == 0 => return false,
            ')' | ']' | '}' => depth - 1,
            _ => depth,
        };
    }
    depth == 0
}

/// Underscores only between digits.
fn well_formed(number: &str) -> bool {
    let bytes = number.as_bytes();
    let digit = |i: usize| bytes.get(i).is_some_and(u8::is_ascii_digit);
    (0..bytes.len()).all(|i| bytes[i] != b'_' || (i > 0 && digit(i - 1) && digit(i + 1)))
}

fn is_json_number(number: &str) -> bool {
    let unsigned = number.strip_prefix('-').unwrap_or(number);
    let whole_end = unsigned.find(|c: char| !c.is_ascii_digit()).unwrap_or(unsigned.len());
    let (whole, after) = unsigned.split_at(whole_end);
    let whole_ok = whole == "0" || (!whole.is_empty() && !whole.starts_with('0'));
    let point_ok =
        after.strip_prefix('.').is_none_or(|f| f.starts_with(|c: char| c.is_ascii_digit()));
    whole_ok && point_ok && !number.contains('_')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_numbers_are_told_from_ron_numbers() {
        for good in ["0", "-0.5", "10", "1e9", "1.25E-3"] {
            assert!(is_json_number(good), "{good}");
        }
        for ron_only in ["+1", ".5", "5.", "007", "1_000"] {
            assert!(!is_json_number(ron_only), "{ron_only}");
        }
    }
}
