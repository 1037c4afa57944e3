//! From the located tree to typed values: how each kind of value is read, and
//! what is noted when it is not as it should be.
//!
//! The blocks of the format are declared once, with `block!` and `choice!`, in
//! [`crate::format`]. A declaration gives the Rust type, its reader, its writer
//! and its page of the format reference.

mod choice;
mod fields;
mod macros;
mod rule;
mod value;

pub use choice::{Picked, pick};
pub use fields::read_block;
pub use macros::{block, choice};
pub use rule::{Absent, Rule, any, list, number, text};
pub use value::split_unit;

use crate::fault::{Fault, Faults, Problem};
use crate::text::{Block, Dialect, Kind, Node, Span};

/// What a reader needs besides the value it reads.
pub struct Reader<'a> {
    pub dialect: Dialect,
    pub faults: &'a mut Faults,
    /// The blocks that are being read, outermost first.
    pub around: Vec<&'static BlockShape>,
}

impl Reader<'_> {
    pub fn report(&mut self, at: Span, problem: Problem) {
        self.faults.push(Fault::new(at.head(), problem));
    }

    /// Notes that a value is of the wrong kind, unless its own fault is known.
    pub fn wrong_kind(&mut self, node: &Node, field: &str, expected: String, mend: String) {
        if !matches!(node.kind, Kind::Broken) {
            let (field, found) = (field.to_owned(), node.noun());
            self.report(node.mark(), Problem::WrongKind { field, expected, found, mend });
        }
    }
}

/// A value that can be read from a scenario file.
pub trait Read: Sized {
    /// What the format reference says of values of this kind.
    fn describe(field: &str, rule: &Rule) -> Shape;

    /// Reads the value of `field`. `None` after a fault, which is noted.
    fn read(node: &Node, field: &str, rule: &Rule, reader: &mut Reader<'_>) -> Option<Self>;

    /// The value of a field that is not written. `None` if it must be.
    fn absent(rule: &Rule) -> Option<Self>;

    /// Whether the value need not be written to be read again.
    fn is_absent(&self) -> bool {
        false
    }
}

/// The value of a block or choice that is not written.
pub fn read_absent<T: Read>(rule: &Rule) -> Option<T> {
    let kind = match rule.absent {
        Absent::Word(word) => Kind::Word(word.to_owned()),
        Absent::Empty => Kind::Block(Block { entries: Vec::new(), broken: false }),
        _ => return None,
    };
    let faults = &mut Faults::default();
    let mut reader = Reader { dialect: Dialect::Ron, faults, around: Vec::new() };
    T::read(&Node { span: Span::new(0, 0), kind }, "", rule, &mut reader)
}

/// The empty block that a word alone stands for, in the word's place.
pub fn nothing_written(word: &Node) -> Node {
    Node { span: word.span, kind: Kind::Block(Block { entries: Vec::new(), broken: false }) }
}

/// Whether a field can be left out when a scenario is written.
pub fn is_absent<T: Read>(value: &T) -> bool {
    value.is_absent()
}

/// What a kind of value looks like: the entries of the format reference.
#[derive(Clone, Debug)]
pub enum Shape {
    /// A number or text, in words.
    Plain(String),
    /// A block of named fields.
    Block(&'static BlockShape),
    /// One of several words, some of them with a value.
    Choice(&'static ChoiceShape),
    /// A list of values of one shape.
    List { of: Box<Shape>, min: usize, max: usize },
}

#[derive(Debug)]
pub struct BlockShape {
    pub name: &'static str,
    pub meaning: &'static str,
    /// The field that may stand first, or alone, without its name.
    pub leading: Option<&'static str>,
    pub fields: &'static [FieldShape],
}

#[derive(Debug)]
pub struct FieldShape {
    pub name: &'static str,
    pub meaning: &'static str,
    pub rule: Rule,
    pub describe: Describe,
}

#[derive(Debug)]
pub struct ChoiceShape {
    pub name: &'static str,
    pub meaning: &'static str,
    pub words: &'static [WordShape],
    /// What may be written without a word; its name is not written.
    pub plain: Option<WordShape>,
}

#[derive(Debug)]
pub struct WordShape {
    pub name: &'static str,
    pub meaning: &'static str,
    /// What follows it in brackets.
    pub payload: Option<Describe>,
    /// What older files call it.
    pub formerly: Option<&'static str>,
}

pub type Describe = fn(&str, &Rule) -> Shape;

impl BlockShape {
    pub fn has(&self, field: &str) -> bool {
        self.fields.iter().any(|known| known.name == field)
    }

    /// A field to show as an example of how the block is written.
    pub fn example(&self) -> &'static str {
        let must = self.fields.iter().find(|field| field.rule.absent == Absent::Fault);
        must.or(self.fields.first()).map_or("name", |field| field.name)
    }
}

impl FieldShape {
    pub fn shape(&self) -> Shape {
        (self.describe)(self.name, &self.rule)
    }
}

impl WordShape {
    /// Whether this is how it is, or was, written.
    pub fn is_called(&self, word: &str) -> bool {
        self.name == word || self.formerly == Some(word)
    }

    /// Whether the word says it all: nothing need follow it.
    pub fn stands_alone(&self) -> bool {
        match self.payload.map(|describe| describe("", &any())) {
            None => true,
            Some(Shape::Block(block)) => {
                block.fields.iter().all(|field| field.rule.absent != Absent::Fault)
            }
            Some(_) => false,
        }
    }

    /// How to write it, with dots for its values.
    pub fn example(&self, dialect: Dialect) -> String {
        let name = self.name;
        let values = match self.payload {
            Some(_) if self.stands_alone() => Some("…".to_owned()),
            _ => self.values(dialect),
        };
        match (values, dialect) {
            (None, Dialect::Ron) => name.to_owned(),
            (None, Dialect::Json) => format!("\"{name}\""),
            (Some(values), Dialect::Ron) => format!("{name}({values})"),
            (Some(values), Dialect::Json) => format!("{{\"{name}\": {values}}}"),
        }
    }

    /// What follows the word: `ml_min: …, at_cmh2o: …`.
    pub fn values(&self, dialect: Dialect) -> Option<String> {
        let Shape::Block(block) = self.payload?("", &any()) else {
            return Some("…".to_owned());
        };
        let must = block.fields.iter().filter(|field| field.rule.absent == Absent::Fault);
        Some(match dialect {
            Dialect::Ron => joined(must.map(|field| format!("{}: …", field.name))),
            Dialect::Json => {
                format!("{{{}}}", joined(must.map(|field| format!("\"{}\": …", field.name))))
            }
        })
    }
}

impl Shape {
    /// In a few words, as in "add `weight_kg: …` with a number from 0.01 to 1500 kg".
    pub fn in_words(&self) -> String {
        match self {
            Self::Plain(words) => words.clone(),
            Self::Block(block) => {
                let names = block.fields.iter().map(|field| format!("`{}`", field.name));
                format!("a block of {}", joined(names))
            }
            Self::Choice(choice) => {
                let names = choice.words.iter().map(|word| format!("`{}`", word.name));
                format!("one of {}", joined(names))
            }
            Self::List { of, .. } => format!("a list of which each entry is {}", of.in_words()),
        }
    }
}

fn joined(parts: impl Iterator<Item = String>) -> String {
    parts.collect::<Vec<_>>().join(", ")
}
