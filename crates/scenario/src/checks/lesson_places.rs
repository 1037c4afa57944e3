//! Where what is wrong in a lesson stands.

use crate::text::{Node, Span};

/// Where the parts of a training block stand in its text.
pub(super) struct Places<'a> {
    root: &'a Node,
    block: Option<&'a Node>,
}

impl<'a> Places<'a> {
    pub fn new(root: &'a Node) -> Self {
        Self { root, block: root.get("training") }
    }

    /// A part of the lesson.
    pub fn of(&self, path: &[&str]) -> Span {
        Self::within(self.block.unwrap_or(self.root), path)
    }

    /// A part of the scenario around it.
    pub fn around(&self, path: &[&str]) -> Span {
        Self::within(self.root, path)
    }

    fn within(mut node: &Node, path: &[&str]) -> Span {
        for key in path {
            let inside = match key.parse::<usize>() {
                Ok(index) => node.item(index),
                Err(_) => node.get(key),
            };
            match inside {
                Some(inside) => node = inside,
                None => break,
            }
        }
        node.mark()
    }
}
