//! Panels under each other: measured (`layout.rs`), drawn (`paint.rs`), told in words
//! (`describe.rs`).

pub(crate) mod axis;
pub(crate) mod data;
pub(crate) mod describe;
pub(crate) mod event;
pub(crate) mod flags;
pub(crate) mod frame;
pub(crate) mod key;
pub(crate) mod labels;
pub(crate) mod layout;
pub(crate) mod marks;
pub(crate) mod note;
pub(crate) mod paint;
pub(crate) mod panel;
pub(crate) mod shading;
pub(crate) mod stack;
pub(crate) mod ticks;
