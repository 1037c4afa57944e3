//! GIFT: questions as lines of text.

use std::fmt::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

use super::{Asked, BankPaper};
use crate::CAUTION;
use crate::paper::svg::escape;

pub(super) fn write(paper: &BankPaper<'_>) -> String {
    let title = one_line(&paper.title);
    let mut text = format!("// {CAUTION}\n$CATEGORY: {title}\n");
    for asked in &paper.asked {
        // Writing to a string cannot fail.
        let _ = question(&mut text, paper, asked);
    }
    text
}

fn question(text: &mut String, paper: &BankPaper<'_>, asked: &Asked<'_>) -> std::fmt::Result {
    let mut body = String::new();
    let (last, before) = match asked.question.asks.split_last() {
        Some((last, before)) => (last.as_str(), before),
        None => ("", &[][..]),
    };
    for paragraph in before {
        write!(body, "<p>{}</p>", escape(paragraph))?;
    }
    if let Some(picture) = paper.picture(asked) {
        let (alt, data) = (escape(&picture.alt), STANDARD.encode(&picture.png));
        write!(body, "<p><img alt=\"{alt}\" src=\"data:image/png;base64,{data}\"></p>")?;
    }
    write!(body, "<p>{}</p><p><small>{CAUTION}</small></p>", escape(last))?;
    write!(text, "\n::{}::[html]{}{{\n", guarded(&asked.question.id), guarded(&body))?;
    let because = guarded(&escape(&asked.question.because));
    for (place, answer) in asked.answers.iter().enumerate() {
        let sign = if place == asked.right { '=' } else { '~' };
        writeln!(text, "{sign}{}#{because}", guarded(&escape(answer)))?;
    }
    writeln!(text, "}}")
}

/// A text in which nothing has a meaning of its own in GIFT; an empty line would end the
/// question.
fn guarded(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in one_line(text).chars() {
        if matches!(letter, '\\' | '~' | '=' | '#' | '{' | '}' | ':') {
            safe.push('\\');
        }
        safe.push(letter);
    }
    safe
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_signs_of_the_form_are_guarded_and_lines_stay_one() {
        assert_eq!(guarded("a=b: {c}\n\n~d#\\"), "a\\=b\\: \\{c\\} \\~d\\#\\\\");
    }
}
