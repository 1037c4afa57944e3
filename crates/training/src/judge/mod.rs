//! What is made of a session: harm, cost, criteria, marks.

pub(crate) mod detect;
pub(crate) mod economy;
pub(crate) mod harm;
pub(crate) mod mark;
pub(crate) mod measure;
pub(crate) mod sign;
