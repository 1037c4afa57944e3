//! The files of the user: what may be read, what may be written, and what is said of it.

pub mod draft;
pub mod handed;
pub mod history;
pub mod input;
pub mod output;
pub mod partial;
pub mod problem;
pub mod room;
pub mod stop;
