//! What is typed and what is told: commands, numbers in words, the glossary.

pub mod command;
pub mod glossary;
pub mod text;
pub(crate) mod unbegun;
