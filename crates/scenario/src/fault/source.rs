//! The text that faults point into, made safe and short enough to print.

use miette::{MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents};

use super::Place;
use crate::visible;

/// Longest line that is shown whole; of a longer one (a JSON file on one line)
/// only the surroundings of the fault are shown.
const LONGEST_LINE: usize = 160;
const SURROUNDINGS: usize = 60;

#[derive(Debug)]
pub(super) struct Source {
    name: String,
    text: String,
}

impl Source {
    pub fn new(name: &str, text: &str) -> Self {
        Self { name: visible(name).into_owned(), text: printable(text) }
    }

    pub fn name(&self) -> &str {
        &self.name
    }

    pub fn place(&self, at: usize) -> Place {
        let before = &self.text[..boundary_before(&self.text, at)];
        let line_start = before.rfind('\n').map_or(0, |end| end + 1);
        Place {
            line: before.matches('\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
        }
    }

    /// The part of the text that covers these lines, or the surroundings of the
    /// span where they are too long.
    fn window(&self, span: &SourceSpan, before: usize, after: usize) -> (usize, usize) {
        let start = boundary_before(&self.text, span.offset());
        let end = boundary_after(&self.text, span.offset() + span.len());
        let mut first = line_start(&self.text, start);
        let mut last = line_end(&self.text, end);
        for _ in 0..before {
            first = line_start(&self.text, first.saturating_sub(1));
        }
        for _ in 0..after {
            last = line_end(&self.text, (last + 1).min(self.text.len()));
        }
        if self.text[first..last].lines().any(|line| line.len() > LONGEST_LINE) {
            let near = boundary_before(&self.text, start.saturating_sub(SURROUNDINGS));
            let far = boundary_after(&self.text, end + SURROUNDINGS);
            first = line_start(&self.text, start).max(near);
            last = line_end(&self.text, end).min(far);
        }
        (first, last)
    }
}

impl SourceCode for Source {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        before: usize,
        after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        if span.offset() + span.len() > self.text.len() {
            return Err(MietteError::OutOfBounds);
        }
        let (first, last) = self.window(span, before, after);
        // Asked without context, miette wants the line and column of the span itself.
        let shown = if before == 0 { span.offset() } else { first };
        let Place { line, column } = self.place(shown);
        let text = &self.text[first..last];
        Ok(Box::new(MietteSpanContents::new_named(
            self.name.clone(),
            text.as_bytes(),
            (first, last - first).into(),
            line - 1,
            column - 1,
            text.matches('\n').count(),
        )))
    }
}

/// The last boundary between characters at or before this byte.
fn boundary_before(text: &str, at: usize) -> usize {
    let at = at.min(text.len());
    (0..=at).rev().find(|&i| text.is_char_boundary(i)).unwrap_or(0)
}

/// The first boundary between characters at or after this byte.
fn boundary_after(text: &str, at: usize) -> usize {
    (at..text.len()).find(|&i| text.is_char_boundary(i)).unwrap_or(text.len())
}

fn line_start(text: &str, at: usize) -> usize {
    text[..at].rfind('\n').map_or(0, |end| end + 1)
}

fn line_end(text: &str, at: usize) -> usize {
    text[at..].find('\n').map_or(text.len(), |length| at + length)
}

/// The same text, byte for byte as long, without characters that would act on
/// the terminal or turn the direction of writing.
fn printable(text: &str) -> String {
    let plain = |c: char| match (c, c.len_utf8()) {
        ('\n' | '\t', _) => c,
        (c, 1) if c.is_control() => {
            if c == '\r' {
                ' '
            } else {
                '?'
            }
        }
        (c, 2) if c.is_control() => '¿',
        (
            '\u{200B}'..='\u{200F}'
            | '\u{2028}'..='\u{202E}'
            | '\u{2060}'..='\u{2069}'
            | '\u{FEFF}',
            _,
        ) => '\u{FFFD}',
        _ => c,
    };
    text.chars().map(plain).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn printable_text_keeps_every_byte_position() {
        let text = "a\u{1b}[31m\u{9b}é\u{202e}x\r\n\ty";
        let plain = printable(text);
        assert_eq!(plain.len(), text.len());
        assert_eq!(plain, "a?[31m¿é\u{FFFD}x \n\ty");
    }

    #[test]
    fn a_long_line_is_shown_around_the_fault_only() {
        let text = format!("{}HERE{}", "a".repeat(5000), "b".repeat(5000));
        let source = Source::new("long.json", &text);
        let contents = source.read_span(&(5000, 4).into(), 1, 1).unwrap();
        assert_eq!(contents.data().len(), 4 + 2 * SURROUNDINGS);
        assert_eq!(contents.span().offset(), 5000 - SURROUNDINGS);
    }
}
