//! Placeholder, replaced in this session.
