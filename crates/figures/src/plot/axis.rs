//! An axis as plotters knows it: a range of values with its own ticks.

use std::ops::Range;

use plotters::coord::ranged1d::{DefaultFormatting, KeyPointHint, Ranged};

use crate::plot::ticks::Ticks;

/// One axis of a panel.
#[derive(Debug, Clone)]
pub(crate) struct Axis {
    pub low: f64,
    pub high: f64,
    pub ticks: Ticks,
    /// Names in place of numbers, for values 0, 1, 2 …
    pub names: Vec<String>,
}

impl Axis {
    /// An axis with a name for each of the values 0, 1, 2 …
    pub fn of_names(names: Vec<String>) -> Self {
        let count = names.len() as f64;
        let ticks = Ticks::new(0.0, (count - 1.0).max(0.5), names.len().max(2));
        Self { low: -0.5, high: count - 0.5, ticks, names }
    }

    /// What stands beside a tick.
    pub fn label(&self, value: f64) -> String {
        match self.names.is_empty() {
            true => self.ticks.label(value),
            false => self.names.get(value.round() as usize).cloned().unwrap_or_default(),
        }
    }

    /// What stands beside every tick.
    pub fn labels(&self) -> impl Iterator<Item = String> + '_ {
        self.ticks.at.iter().map(|&value| self.label(value))
    }
}

impl Ranged for Axis {
    type FormatOption = DefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, (from, to): (i32, i32)) -> i32 {
        let share = (value - self.low) / (self.high - self.low);
        from + (f64::from(to - from) * share).round() as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, hint: Hint) -> Vec<f64> {
        match hint.weight().allow_light_points() {
            true => Vec::new(),
            false => self.ticks.at.clone(),
        }
    }

    fn range(&self) -> Range<f64> {
        self.low..self.high
    }
}
