//! The fields of a block, taken one by one by name.

use super::{Absent, BlockShape, Read, Reader, Rule, Shape};
use crate::fault::{Fault, Home, Problem, near};
use crate::text::{Block, Dialect, Entry, Kind, Name, Node, Span};

/// A block that is being read.
pub struct Fields<'a, 'r> {
    block: &'a Block,
    /// Where to point at when a field is missing.
    at: Span,
    /// What the block is called by whoever wrote it.
    role: &'a str,
    /// Fields that are there under a name that was probably meant for them.
    misspelt: Vec<&'static str>,
    /// Name of the field that may be written without its name.
    leading: Option<&'static str>,
    reader: &'a mut Reader<'r>,
}

/// Reads a block: opens it, notes what does not belong in it, and lets `fill`
/// take its fields.
pub fn read_block<T>(
    node: &Node,
    role: &str,
    shape: &'static BlockShape,
    reader: &mut Reader<'_>,
    fill: impl FnOnce(&mut Fields<'_, '_>) -> Option<T>,
) -> Option<T> {
    let (block, name) = match &node.kind {
        Kind::Block(block) => (block, None),
        Kind::Named(name, inside) => match &inside.kind {
            Kind::Block(block) => (block, Some(name)),
            _ => return None,
        },
        Kind::List(_) if shape.leading.is_some() => {
            let value = node.clone();
            let alone = Block { entries: vec![Entry { key: None, value }], broken: false };
            let node = Node { span: node.span, kind: Kind::Block(alone) };
            return read_block(&node, role, shape, reader, fill);
        }
        _ => {
            let first = shape.example();
            let form = match reader.dialect {
                Dialect::Ron => format!("`({first}: …)`"),
                Dialect::Json => format!("`{{\"{first}\": …}}`"),
            };
            reader.wrong_kind(node, role, format!("a block {form}"), format!("write {form}"));
            return None;
        }
    };
    if let Some(name) = name.filter(|name| name.text != shape.name) {
        let (found, expected) = (name.text.clone(), shape.name);
        reader.report(name.span, Problem::WrongName { found, expected });
    }
    let misspelt = note_strangers(block, role, shape, reader);
    let leading = shape.leading;
    reader.around.push(shape);
    let read = fill(&mut Fields { block, at: node.mark(), role, misspelt, leading, reader });
    reader.around.pop();
    read
}

/// Notes repeated, unknown and unnamed entries, and returns the fields that the
/// unknown ones were probably meant to be.
fn note_strangers(
    block: &Block,
    role: &str,
    shape: &BlockShape,
    reader: &mut Reader<'_>,
) -> Vec<&'static str> {
    let known: Vec<&'static str> = shape.fields.iter().map(|field| field.name).collect();
    let mut seen: Vec<&Name> = Vec::new();
    let mut misspelt = Vec::new();
    for (index, entry) in block.entries.iter().enumerate() {
        let Some(key) = &entry.key else {
            let leads = shape.leading.is_some() && index == 0;
            if !leads && !matches!(entry.value.kind, Kind::Broken) {
                let number = matches!(entry.value.kind, Kind::Number(_));
                let (block, known) = (role.to_owned(), known.clone());
                reader.report(entry.value.mark(), Problem::UnnamedValue { block, number, known });
            }
            continue;
        };
        if !known.contains(&key.text.as_str()) {
            misspelt.extend(near(&key.text, &known));
            let (block, found) = (role.to_owned(), key.text.clone());
            let (known, home) = (known.clone(), home(&found, shape, reader));
            reader.report(key.span, Problem::UnknownField { block, found, known, home });
        } else if let Some(first) = seen.iter().find(|first| first.text == key.text) {
            let problem = Problem::RepeatedField { field: key.text.clone() };
            let fault = Fault::new(key.span.head(), problem).and(first.span.head(), "first here");
            reader.faults.push(fault);
        } else {
            seen.push(key);
        }
    }
    misspelt
}

/// The block nearby that has this field, if the one it stands in has not.
fn home(field: &str, shape: &BlockShape, reader: &Reader<'_>) -> Option<Home> {
    if reader.around.iter().any(|block| block.has(field)) {
        return Some(Home::Around);
    }
    let blocks = reader.around.iter().copied().chain([shape]);
    blocks.flat_map(|block| block.fields).find_map(|within| match within.shape() {
        Shape::Block(block) if block.has(field) => Some(Home::Within(within.name)),
        _ => None,
    })
}

impl Fields<'_, '_> {
    /// The value of a field, its default, or `None` after a fault.
    pub fn take<T: Read>(&mut self, name: &'static str, rule: &Rule) -> Option<T> {
        let named = |entry: &&Entry| match &entry.key {
            Some(key) => key.text == name,
            None => self.leading == Some(name),
        };
        let node = self.block.entries.iter().find(named).map(|entry| &entry.value);
        // A word of a choice means itself.
        let is_a_word = || match T::describe(name, rule) {
            Shape::Choice(choice) => choice.words.iter().any(|word| word.name == "None"),
            _ => false,
        };
        let nothing = |node: &Node| match &node.kind {
            Kind::Word(word) => word == "null" || word == "None" && !is_a_word(),
            _ => false,
        };
        let node = node.filter(|node| !(nothing(node) && rule.absent != Absent::Fault));
        if let Some(node) = node {
            return T::read(node, name, rule, self.reader);
        }
        let value = T::absent(rule);
        if value.is_none() && !self.block.broken && !self.misspelt.contains(&name) {
            let problem = Problem::MissingField {
                block: self.role.to_owned(),
                field: name,
                expected: T::describe(name, rule).in_words(),
            };
            self.reader.report(self.at, problem);
        }
        value
    }
}
