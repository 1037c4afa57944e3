//! A practice session in the terminal.

mod lines;
mod screen;

pub use lines::in_lines;
pub use screen::on_screen;
