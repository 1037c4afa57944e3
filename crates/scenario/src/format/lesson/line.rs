//! A text that is an entry of a list, with bounds of its own.

use std::fmt;

use serde::Serialize;

use crate::read::{Read, Reader, Rule, Shape, text};
use crate::text::Node;

const RULE: Rule = text(200);

/// A text of at most 200 characters.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct Line(String);

impl Line {
    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Line {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Read for Line {
    fn describe(field: &str, _: &Rule) -> Shape {
        String::describe(field, &RULE)
    }

    fn read(node: &Node, field: &str, _: &Rule, reader: &mut Reader<'_>) -> Option<Self> {
        String::read(node, field, &RULE, reader).map(Self)
    }

    fn absent(_: &Rule) -> Option<Self> {
        None
    }
}
