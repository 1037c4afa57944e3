//! Ten simulated minutes of one cat, by the library and by general-purpose
//! solvers: the same machine, the same breaths, the same question when each ends.
//!
//! `cargo bench -p tidewright-benches` measures; `cargo run --release -p
//! tidewright-benches` measures once more and writes the table of
//! `benches/README.md`.

pub mod cat;
pub mod kinds;
pub mod live;
pub mod marking;
pub mod outside;
pub mod study;
pub mod with_diffsol;
pub mod with_ode_solvers;
