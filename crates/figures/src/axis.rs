//! An axis as plotters knows it: a range of values with its own ticks.

use std::ops::Range;

use plotters::coord::ranged1d::{DefaultFormatting, KeyPointHint, Ranged};

use crate::ticks::Ticks;

/// One axis of a panel.
#[derive(Debug, Clone)]
pub(crate) struct Axis {
    pub low: f64,
    pub high: f64,
    pub ticks: Ticks,
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
