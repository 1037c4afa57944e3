//! How large a file may be.

use crate::fault::{Fault, Problem, Rejected};
use crate::text::Span;

/// Largest file, bytes. A scenario with a full timeline and long texts has a
/// tenth of it.
pub const LARGEST_FILE: usize = 1 << 20;

pub(crate) fn too_big(file_name: &str) -> Rejected {
    let problem = Problem::TooBig { most: LARGEST_FILE };
    Rejected::one(file_name, "", Fault::new(Span::new(0, 0), problem))
}
