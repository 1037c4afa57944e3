//! Placeholder, replaced in this session.
pub mod math;
pub mod quantity;
pub mod setup;
/// Everything that a first program needs.
pub mod prelude {
    pub use crate::quantity::*;
    pub use crate::setup::*;
}
