//! What the seed draws: the case and its onset.

use rand::RngExt;
use tidewright::random::generator;
use tidewright_scenario::format::{Case, Training};

/// What goes wrong in one session, and when.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// The case of the pool.
    pub case: Case,
    /// When it begins, s.
    pub onset_s: f64,
}

/// Draws a case and its onset; nothing from an empty pool.
#[must_use]
pub fn draw(training: &Training, seed: u32) -> Option<Drawn> {
    let mut generator = generator(u64::from(seed));
    let (which, when) = (generator.random::<f64>(), generator.random::<f64>());
    let case = training.pool.get((which * training.pool.len() as f64) as usize)?;
    let onset_s = case.onset_from_s + when * (case.onset_to_s - case.onset_from_s);
    Some(Drawn { case: case.clone(), onset_s })
}
