//! The equipment and the lung as one network of stores and paths, and what can be
//! read from it.

pub(crate) mod network;
pub(crate) mod plan;
pub(crate) mod signal;
