//! Texts from outside, made harmless where they are shown.

use std::borrow::Cow;

/// The same text in which every character is seen: what would act on a terminal or turn
/// the direction of writing stands as an escape. Line ends and tabs stay.
///
/// The directional characters are those of Unicode's `Bidi_Control`; beside them the
/// separators U+2028 and U+2029, which end lines unseen, blanks of no width, and the
/// byte-order mark.
///
/// ```
/// use tidewright_scenario::visible;
/// assert_eq!(visible("mid\u{202e}txt.ron\u{1b}[2J"), "mid\\u{202e}txt.ron\\u{1b}[2J");
/// assert_eq!(visible("Wäsche 猫\n"), "Wäsche 猫\n");
/// ```
#[must_use]
pub fn visible(text: &str) -> Cow<'_, str> {
    if !text.chars().any(is_unseen) {
        return text.into();
    }
    let mut seen = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match is_unseen(c) {
            true => seen.extend(c.escape_unicode()),
            false => seen.push(c),
        }
    }
    seen.into()
}

fn is_unseen(c: char) -> bool {
    match c {
        '\n' | '\t' => false,
        '\u{061C}'
        | '\u{200B}'
        | '\u{200E}'
        | '\u{200F}'
        | '\u{2028}'..='\u{202E}'
        | '\u{2060}'..='\u{2069}'
        | '\u{FEFF}' => true,
        c => c.is_control(),
    }
}

/// A text as a cell that a spreadsheet takes as text: an apostrophe stands before one
/// that would begin a formula (`=`, `+`, `-`, `@`, also in their full-width forms, a tab
/// or a carriage return, behind spaces too). What would not be seen stands as an escape.
/// A number stays a number, and a cell made once stays as it is.
///
/// ```
/// use tidewright_scenario::cell;
/// assert_eq!(cell("=HYPERLINK(\"x\")"), "'=HYPERLINK(\"x\")");
/// assert_eq!(cell("-2.5"), "-2.5");
/// assert_eq!(cell(&cell("@sum")), "'@sum");
/// ```
#[must_use]
pub fn cell(text: &str) -> Cow<'_, str> {
    let is_number = text.parse::<f64>().is_ok();
    let formula = ['=', '+', '-', '@', '＝', '＋', '－', '＠', '\t', '\r'];
    let begins = text.starts_with(['\t', '\r']) || text.trim_start().starts_with(formula);
    match visible(text) {
        seen if begins && !is_number => format!("'{seen}").into(),
        seen => seen,
    }
}

/// What parts the cells of a table: the comma, semicolon or tab that its line of names
/// has most of; the first line that is no comment with `#`.
#[must_use]
pub fn delimiter(text: &[u8]) -> u8 {
    let mut lines = text.split(|&byte| byte == b'\n');
    let head = lines.find(|line| !line.starts_with(b"#")).unwrap_or_default();
    let count = |of: u8| head.iter().filter(|&&byte| byte == of).count();
    let most = [b',', b';', b'\t'].into_iter().rev().max_by_key(|&of| count(of));
    most.unwrap_or(b',')
}
