//! The animal: what its species brings, its blood, its heart, its alveoli, its wish to
//! breathe.

pub mod alveolar;
pub mod blood;
pub mod circulation;
pub mod drive;
pub mod species;
