//! One word of several, with or without a value.

use super::{ChoiceShape, Reader};
use crate::fault::Problem;
use crate::text::{Dialect, Entry, Kind, Node};

/// What was chosen.
pub enum Picked<'n> {
    /// A known word and the value that follows it; a block of which every field has
    /// a default need not follow.
    Word(&'static str, Option<&'n Node>),
    /// The form without a word.
    Plain,
}

/// Finds which of the words was written, in either dialect: `Cat`, `Leak(…)`,
/// `"Cat"` or `{"Leak": …}`.
pub fn pick<'n>(
    node: &'n Node,
    field: &str,
    shape: &ChoiceShape,
    reader: &mut Reader<'_>,
) -> Option<Picked<'n>> {
    let json = reader.dialect == Dialect::Json;
    let (word, at, payload) = match &node.kind {
        Kind::Word(word) => (word, node.span, None),
        Kind::Text(word) => {
            if !json {
                let (what, expected) = ("a choice in quotes", "the word alone");
                let mend = "write the word without quotes";
                reader.report(node.span, Problem::NotRon { what, expected, mend });
            }
            (word, node.span, None)
        }
        Kind::Named(name, inside) => (&name.text, name.span, Some(value_within(inside))),
        Kind::Block(block) => match &block.entries[..] {
            [only] if json && (shape.plain.is_none() || knows(shape, only)) => {
                let Some(key) = &only.key else {
                    return no_word(node, field, shape, reader);
                };
                (&key.text, key.span, Some(&only.value))
            }
            _ if shape.plain.is_some() => return Some(Picked::Plain),
            _ => return no_word(node, field, shape, reader),
        },
        _ => return no_word(node, field, shape, reader),
    };
    let known = shape.words.iter().find(|known| known.is_called(word));
    if known.is_none() {
        let (field, found) = (field.to_owned(), word.clone());
        let known = shape.words.iter().map(|word| word.name).collect();
        reader.report(at, Problem::UnknownWord { field, found, known });
    }
    let known = known?;
    match (known.payload, payload) {
        (None, Some(_)) => reader.report(at, Problem::TakesNothing { word: known.name }),
        (Some(_), None) if !known.stands_alone() => {
            let example = known.example(reader.dialect);
            reader.report(at, Problem::TakesSomething { word: known.name, example });
            return None;
        }
        _ => {}
    }
    Some(Picked::Word(known.name, payload))
}

fn knows(shape: &ChoiceShape, entry: &Entry) -> bool {
    let key = entry.key.as_ref();
    key.is_some_and(|key| shape.words.iter().any(|word| word.is_called(&key.text)))
}

/// `Mode(Standby)` holds a word; `Leak(ml_min: 300, …)` holds a block.
fn value_within(inside: &Node) -> &Node {
    match &inside.kind {
        Kind::Block(block) => match &block.entries[..] {
            [only] if only.key.is_none() => &only.value,
            _ => inside,
        },
        _ => inside,
    }
}

fn no_word<'n>(
    node: &Node,
    field: &str,
    shape: &ChoiceShape,
    reader: &mut Reader<'_>,
) -> Option<Picked<'n>> {
    let examples: Vec<_> =
        shape.words.iter().map(|word| format!("`{}`", word.example(reader.dialect))).collect();
    let expected = format!("a word such as {}", examples[0]);
    reader.wrong_kind(node, field, expected, format!("write one of {}", examples.join(", ")));
    None
}
