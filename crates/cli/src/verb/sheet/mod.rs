//! Figures and sheets of paper.

pub mod figure;
pub mod handout;
pub mod questions;
pub mod signs;
