//! What the program tells of itself and its words.

pub mod completions;
pub mod example;
pub mod explain;
pub mod licences;
pub mod reference;
