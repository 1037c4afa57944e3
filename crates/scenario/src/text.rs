//! The text of a scenario as a tree in which every part knows where it stands.
//!
//! The general parsers for RON and JSON stop at the first fault. This one goes
//! on: a part that cannot be read becomes [`Kind::Broken`], its fault is noted,
//! and the rest of the tree can still be checked.

mod cursor;
mod parse;
mod scalar;

pub use parse::parse;

/// A stretch of text, in bytes from its start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Span {
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

impl Span {
    pub fn new(start: usize, end: usize) -> Self {
        Self { start, end }
    }

    /// At most the first 60 bytes' worth: enough to point at, short enough to print.
    pub fn head(self) -> Self {
        Self::new(self.start, self.end.min(self.start + 60))
    }
}

/// The two ways to write the same scenario.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dialect {
    /// Rusty Object Notation: `(name: value)`, comments, trailing commas.
    Ron,
    /// JSON: `{"name": value}`.
    Json,
}

impl Dialect {
    /// JSON if the file is called `*.json` or its first character is `{`.
    #[must_use]
    pub fn of(file_name: &str, text: &str) -> Self {
        let extension = file_name.rsplit_once('.').map_or("", |(_, end)| end);
        if extension.eq_ignore_ascii_case("json") || text.trim_start().starts_with('{') {
            Self::Json
        } else {
            Self::Ron
        }
    }
}

/// One value of the text.
#[derive(Clone, Debug)]
pub struct Node {
    pub span: Span,
    pub kind: Kind,
}

/// What a value is, before anything is known of what it should be.
#[derive(Clone, Debug)]
pub enum Kind {
    Number(f64),
    Text(String),
    /// A bare word: `Cat`, `true`, `None`.
    Word(String),
    /// `Name(…)`: the name, and the block that follows it.
    Named(Name, Box<Node>),
    Block(Block),
    List(Vec<Node>),
    /// Not readable; its fault is already noted.
    Broken,
}

/// `(…)` in RON, `{…}` in JSON.
#[derive(Clone, Debug)]
pub struct Block {
    pub entries: Vec<Entry>,
    /// Something in it could not be read, so a missing field may be there after all.
    pub broken: bool,
}

/// One entry of a block; without a key where a value stands alone.
#[derive(Clone, Debug)]
pub struct Entry {
    pub key: Option<Name>,
    pub value: Node,
}

/// A name and where it stands.
#[derive(Clone, Debug)]
pub struct Name {
    pub text: String,
    pub span: Span,
}

impl Node {
    /// Where to point when something is wrong with this value: blocks and lists
    /// at their opening, all else as a whole.
    pub fn mark(&self) -> Span {
        match &self.kind {
            Kind::Block(_) | Kind::List(_) => Span::new(self.span.start, self.span.start + 1),
            Kind::Named(name, _) => name.span.head(),
            _ => self.span.head(),
        }
    }

    /// The value of the entry of this name, looking through `Name(…)`.
    pub fn get(&self, key: &str) -> Option<&Self> {
        match &self.kind {
            Kind::Named(_, inside) => inside.get(key),
            Kind::Block(block) => block.entries.iter().find_map(|entry| {
                let name = entry.key.as_ref()?;
                (name.text == key).then_some(&entry.value)
            }),
            _ => None,
        }
    }

    /// The item at this place of a list.
    pub fn item(&self, index: usize) -> Option<&Self> {
        match &self.kind {
            Kind::List(items) => items.get(index),
            _ => None,
        }
    }

    /// What a person would call this value.
    pub fn noun(&self) -> &'static str {
        match &self.kind {
            Kind::Number(_) => "a number",
            Kind::Text(_) => "text",
            Kind::Word(word) if word == "true" || word == "false" => "yes or no",
            Kind::Word(word) if word == "null" || word == "None" => "nothing",
            Kind::Word(_) => "a word",
            Kind::Named(..) | Kind::Block(_) => "a block",
            Kind::List(_) => "a list",
            Kind::Broken => "unreadable",
        }
    }
}
