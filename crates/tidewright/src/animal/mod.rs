//! The animal: what its species brings, its blood, its alveoli, its wish to breathe.

pub mod alveolar;
pub mod blood;
pub mod drive;
pub mod species;
