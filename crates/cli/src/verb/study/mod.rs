//! Many breaths, many patients.

pub mod cohort;
pub mod fit;
pub mod plan;
pub mod sweep;
