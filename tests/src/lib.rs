//! What the tests of the main job share: recorded tables, oracles that know
//! nothing of the engine, and the runs whose bits are pinned.
//!
//! Benches use the oracles too, so that a speed and an error are always those of
//! the same problem.

pub mod corners;
pub mod golden;
pub mod marking;
pub mod plant;
pub mod reference;
pub mod two_node;
