//! How gas flows and what it fills: laws of paths and compliances, tubes by their
//! size, properties of gases.

pub mod gases;
pub(crate) mod law;
pub(crate) mod series;
pub mod tube;
