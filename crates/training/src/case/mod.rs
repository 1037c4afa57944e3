//! The case behind a lesson: what was drawn, what goes wrong, what puts it right.

pub(crate) mod care;
pub(crate) mod choices;
pub(crate) mod draw;
pub(crate) mod mends;
pub(crate) mod table;
pub(crate) mod tube;
pub(crate) mod varied;
pub(crate) mod world;
