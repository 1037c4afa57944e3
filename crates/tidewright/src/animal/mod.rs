//! The animal: what its species brings, its blood, heart and warmth, its alveoli, its
//! wish to breathe.

pub mod alveolar;
pub mod blood;
pub mod circulation;
pub mod drive;
pub mod species;
pub mod warmth;
