//! Points of a curve that rises.

use serde::Serialize;

use crate::fault::Problem;
use crate::read::{Read, Reader, Rule, Shape, block, number};
use crate::text::Node;

/// Points of pressure and volume, each above the one before in both.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(transparent)]
pub struct Points(Vec<Point>);

impl Points {
    /// The points in order.
    #[must_use]
    pub fn as_slice(&self) -> &[Point] {
        &self.0
    }

    /// Multiplies the volumes.
    pub(crate) fn stretch(&mut self, by: f64) {
        self.0.iter_mut().for_each(|at| at.ml *= by);
    }
}

block! {
    /// A point of a pressure-volume curve.
    pub struct Point {
        /// Pressure.
        cmh2o: f64 = number(-100.0, 200.0),
        /// Volume above rest.
        ml: f64 = number(-100_000.0, 100_000.0),
    }
}

impl Point {
    /// Steps of less, in cmH2O or mL, are no rise: the curve would be a wall.
    const LEAST_RISE: f64 = 0.001;

    fn rises_to(&self, next: &Self) -> bool {
        next.cmh2o - self.cmh2o >= Self::LEAST_RISE && next.ml - self.ml >= Self::LEAST_RISE
    }
}

impl Read for Points {
    fn describe(field: &str, rule: &Rule) -> Shape {
        Vec::<Point>::describe(field, rule)
    }

    fn read(node: &Node, field: &str, rule: &Rule, reader: &mut Reader<'_>) -> Option<Self> {
        let points = Vec::<Point>::read(node, field, rule, reader)?;
        let fall = points.windows(2).position(|pair| !pair[0].rises_to(&pair[1]));
        let Some(before) = fall else {
            return Some(Self(points));
        };
        let at = node.item(before + 1).unwrap_or(node).mark();
        reader.report(at, Problem::NotRising { field: field.to_owned() });
        None
    }

    fn absent(_: &Rule) -> Option<Self> {
        None
    }
}
