//! Texts changed a little: in a number, a line, a field, a byte.

use tidewright_scenario::read::BlockShape;

use crate::choices::Choices;
use crate::grammar;

/// What upsets readers.
const PIECES: [&str; 26] = [
    "(",
    ")",
    "[",
    "]",
    "{",
    "}",
    ",",
    ":",
    "\"",
    "'",
    "/*",
    "*/",
    "//",
    "\n",
    "\t",
    "\u{feff}",
    "\u{202e}",
    "-",
    "1e400",
    "nan",
    "None",
    "true",
    "r#\"",
    "#![enable(implicit_some)]",
    ";",
    "\0",
];

/// Changes a text one to eight times; `block` is what its outermost fields may be.
pub fn mutate(text: &mut String, block: Option<&BlockShape>, choices: &mut Choices<'_>) {
    for _ in 0..=choices.below(8) {
        match choices.below(10) {
            0..=4 => number(text, choices),
            5 | 6 => match block {
                Some(block) => field(text, block, choices),
                None => line(text, choices),
            },
            7 => line(text, choices),
            8 => piece(text, choices),
            _ => cut(text, choices),
        }
        if choices.is_over() {
            return;
        }
    }
}

fn boundary(text: &str, at: usize) -> usize {
    text.floor_char_boundary(at.min(text.len()))
}

/// Another number in the place of one.
fn number(text: &mut String, choices: &mut Choices<'_>) {
    let bytes = text.as_bytes();
    let of_number = |i: usize| bytes[i].is_ascii_digit() || bytes[i] == b'.';
    let begins = |&i: &usize| {
        of_number(i)
            && (i == 0
                || !(of_number(i - 1)
                    || bytes[i - 1].is_ascii_alphanumeric()
                    || bytes[i - 1] == b'_'))
    };
    let starts: Vec<usize> = (0..bytes.len()).filter(begins).collect();
    if starts.is_empty() {
        return;
    }
    let start = *choices.one(&starts);
    let end = (start..bytes.len()).find(|&i| !of_number(i)).unwrap_or(bytes.len());
    let old: f64 = text[start..end].parse().unwrap_or(1.0);
    let factors = [0.0, 0.01, 0.1, 0.5, 0.9, 0.999_999, 1.000_001, 1.1, 2.0, 10.0, 100.0, -1.0];
    let new = match choices.below(4) {
        0 => choices.number(0.0, 1000.0),
        _ => old * *choices.one(&factors),
    };
    text.replace_range(start..end, &format!("{new}"));
}

/// A line left out, or written twice.
fn line(text: &mut String, choices: &mut Choices<'_>) {
    let mut lines: Vec<&str> = text.lines().collect();
    if lines.is_empty() {
        return;
    }
    let at = choices.below(lines.len());
    match choices.once_in(2) {
        true => drop(lines.remove(at)),
        false => lines.insert(choices.below(lines.len()), lines[at]),
    }
    *text = lines.join("\n");
}

/// A field more, of the outermost block.
fn field(text: &mut String, block: &BlockShape, choices: &mut Choices<'_>) {
    let shape = choices.one(block.fields);
    let value = grammar::field(shape, choices);
    let Some(open) = text.find('(') else { return };
    text.insert_str(open + 1, &format!("\n    {}: {value},", shape.name));
    // The one that was there would be a fault of its own, and hide what the new one does.
    let again = format!("\n    {}:", shape.name);
    if let Some(old) = text[open + 2..].find(&again).map(|old| open + 2 + old)
        && !choices.once_in(8)
    {
        let end = end_of_field(text, old + again.len());
        text.replace_range(old..end, "");
    }
}

/// Behind the comma that ends the value that begins here.
fn end_of_field(text: &str, from: usize) -> usize {
    let mut depth = 0_i32;
    for (at, c) in text[from..].char_indices() {
        match c {
            '(' | '[' => depth += 1,
            ')' | ']' if depth == 0 => return from + at,
            ')' | ']' => depth -= 1,
            ',' if depth == 0 => return from + at + 1,
            _ => {}
        }
    }
    text.len()
}

fn piece(text: &mut String, choices: &mut Choices<'_>) {
    let at = boundary(text, choices.below(text.len() + 1));
    text.insert_str(at, choices.one::<&str>(&PIECES));
}

fn cut(text: &mut String, choices: &mut Choices<'_>) {
    let at = boundary(text, choices.below(text.len() + 1));
    let end = boundary(text, at + choices.below(12));
    text.replace_range(at..end, "");
}
