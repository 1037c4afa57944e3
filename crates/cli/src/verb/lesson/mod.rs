//! Practising and marking.

pub mod class;
pub mod coverage;
pub mod learn;
pub mod mark;
pub mod practise;
pub mod prove;
pub mod replay;
