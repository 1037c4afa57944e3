//! A practice session in the terminal.

mod journal;
mod lines;
mod log;
mod screen;

pub use journal::typed;
pub use lines::in_lines;
pub use log::Log;
pub use screen::on_screen;
