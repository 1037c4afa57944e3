//! Values as the format declares them, right or nearly right.

use std::fmt::Write as _;

use tidewright_scenario::read::{Absent, FieldShape, Rule, Shape, any};

use crate::choices::Choices;

/// Deepest value that is made; deeper ones become `()`.
const DEEPEST: usize = 7;

/// A value of a field in RON.
pub fn field(field: &FieldShape, choices: &mut Choices<'_>) -> String {
    let mut text = String::new();
    value(&field.shape(), &field.rule, choices, 0, &mut text);
    text
}

fn value(shape: &Shape, rule: &Rule, choices: &mut Choices<'_>, depth: usize, text: &mut String) {
    if depth > DEEPEST {
        return text.push_str("()");
    }
    match shape {
        Shape::Plain(words) => plain(words, rule, choices, text),
        Shape::Block(block) => {
            text.push('(');
            for field in block.fields {
                let must = field.rule.absent == Absent::Fault;
                // A byte of few: most blocks keep what they must have.
                let written = if must { !choices.once_in(40) } else { choices.once_in(3) };
                if written {
                    let _ = write!(text, "{}: ", field.name);
                    value(&field.shape(), &field.rule, choices, depth + 1, text);
                    text.push_str(", ");
                }
            }
            text.push(')');
        }
        Shape::Choice(choice) => {
            let plain = choice.plain.as_ref();
            let word = match plain {
                Some(plain) if choices.once_in(2) => plain,
                _ => choices.one(choice.words),
            };
            if plain.is_none_or(|plain| plain.name != word.name) {
                text.push_str(word.name);
            }
            if let Some(payload) = word.payload {
                value(&payload("", &any()), &any(), choices, depth + 1, text);
            }
        }
        Shape::List { of, min, max } => {
            let count = (min + choices.below(4)).min(max + 1);
            text.push('[');
            for _ in 0..count {
                value(of, &any(), choices, depth + 1, text);
                text.push_str(", ");
            }
            text.push(']');
        }
    }
}

/// What the format says of a plain value in words begins with what it is.
fn plain(words: &str, rule: &Rule, choices: &mut Choices<'_>, text: &mut String) {
    const WORDS: [&str; 6] = ["a", "leak", "x-1", "is it", "loose-taper", "ä 猫 \\u{202e}"];
    let _ = match words {
        _ if words.starts_with("a number") || words.starts_with("the number") => {
            let number = choices.number(rule.min, rule.max);
            let whole = choices.once_in(2);
            write!(text, "{}", if whole { number.round() } else { number })
        }
        _ if words.starts_with('`') => write!(text, "{}", choices.once_in(2)),
        _ => write!(text, "\"{}\"", choices.one(&WORDS)),
    };
}
