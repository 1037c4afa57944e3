//! What the tests of the main job share.

pub mod reference;
