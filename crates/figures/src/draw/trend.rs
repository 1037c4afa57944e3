//! What breaths come to over minutes.

use tidewright::coupled::GasPoint;
use tidewright::exchange::GasBreath;
use tidewright_scenario::Scenario;

use super::error::DrawFileError;
use super::run::{happenings, kept_together, simulation, varied};
use crate::file::language::ENGLISH;
use crate::file::{Trend, TrendMeasure};
use crate::paper::curve::{Piece, clip};
use crate::paper::theme::{self, Pen};
use crate::plot::event::Event;
use crate::plot::panel::{Curve, Panel, share_key};
use crate::plot::stack::Stack;

pub(super) fn stack<'a>(trend: &Trend, plain: &Scenario) -> Result<Stack<'a>, DrawFileError> {
    let mut panels: Vec<Panel> =
        trend.panels.iter().map(|panel| Panel::of(ENGLISH.trend(panel.measures[0]), 1.0)).collect();
    if trend.runs.is_empty() {
        let run = Run::of(plain, trend)?;
        for (drawn, panel) in panels.iter_mut().zip(&trend.panels) {
            for &measure in panel.measures.iter().rev() {
                let label = ENGLISH.trend(measure).curve.to_owned();
                drawn.curves.push(Curve { label, pen: pen(measure), pieces: run.curve(measure) });
            }
        }
    }
    for (variant, pen) in trend.runs.iter().zip(theme::FAMILY) {
        let run = Run::of(&varied(plain, &variant.set), trend)?;
        for (drawn, panel) in panels.iter_mut().zip(&trend.panels) {
            for &measure in &panel.measures {
                let label = kept_together(&variant.label);
                drawn.curves.push(Curve { label, pen, pieces: run.curve(measure) });
            }
        }
    }
    share_key(&mut panels);
    let mut stack = Stack::over(ENGLISH.minutes, trend.from_min, trend.to_min, panels);
    let (from_s, to_s) = (60.0 * trend.from_min, 60.0 * trend.to_min);
    let events = happenings(plain, from_s, to_s).into_iter();
    stack.events = events.map(|event| Event { at_s: event.at_s / 60.0, ..event }).collect();
    Ok(stack)
}

/// Readings of the blood along the axis, each the mean since the one before: closer
/// than anyone sees, and not so close that the ripple of breaths thickens the line.
const READINGS: f64 = 300.0;

/// Blood since the last reading, by time.
#[derive(Default)]
struct Blood {
    every_min: f64,
    since_min: f64,
    lasted_s: f64,
    pressure: f64,
    saturation: f64,
}

impl Blood {
    fn add(&mut self, point: &GasPoint, readings: &mut Vec<(f64, f64, f64)>) {
        self.lasted_s += point.step_s;
        self.pressure += point.step_s * point.arterial_carbon_dioxide_mmhg;
        self.saturation += point.step_s * 100.0 * point.saturation;
        let now_min = point.at_s / 60.0;
        if now_min - self.since_min < self.every_min || self.lasted_s <= 0.0 {
            return;
        }
        let middle_min = (self.since_min + now_min) / 2.0;
        readings.push((middle_min, self.pressure / self.lasted_s, self.saturation / self.lasted_s));
        *self = Self { every_min: self.every_min, since_min: now_min, ..Self::default() };
    }
}

/// A breath that lasts longer is none to a monitor: it shows no number.
const LONGEST_BREATH_S: f64 = 20.0;

/// What is kept of a run.
struct Run {
    from_min: f64,
    to_min: f64,
    breaths: Vec<GasBreath>,
    /// Minute, arterial carbon dioxide mmHg, saturation %.
    blood: Vec<(f64, f64, f64)>,
}

impl Run {
    fn of(scenario: &Scenario, trend: &Trend) -> Result<Self, DrawFileError> {
        let &Trend { from_min, to_min, .. } = trend;
        let mut run = Self { from_min, to_min, breaths: Vec::new(), blood: Vec::new() };
        let simulation = simulation(scenario, 60.0 * to_min)?;
        let mut blood = Blood { every_min: (to_min - from_min) / READINGS, ..Blood::default() };
        for together in scenario.coupled(&simulation)? {
            let together = together?;
            let at_min = together.stretch.piece.start_s / 60.0;
            let gas = together.gas.ok_or(DrawFileError::NoGas)?;
            run.breaths.extend(gas.breaths);
            for point in gas.points {
                blood.add(&point, &mut run.blood);
            }
            if at_min > to_min {
                break;
            }
        }
        Ok(run)
    }

    fn curve(&self, measure: TrendMeasure) -> Vec<Piece> {
        let pieces = match measure {
            TrendMeasure::EndTidalCarbonDioxide => {
                self.by_breath(|breath| breath.end_tidal_carbon_dioxide.as_mmhg())
            }
            TrendMeasure::InspiredCarbonDioxide => {
                self.by_breath(|breath| breath.inspired_carbon_dioxide.as_mmhg())
            }
            TrendMeasure::MeanInspiredCarbonDioxide => {
                self.by_breath(|breath| breath.mean_inspired_carbon_dioxide.as_mmhg())
            }
            TrendMeasure::MinuteVolume => {
                self.by_breath(|breath| 60.0 * breath.expired.as_ml() / breath.duration.as_s())
            }
            TrendMeasure::ArterialCarbonDioxide => {
                vec![self.blood.iter().map(|&(at, pressure, _)| (at, pressure)).collect()]
            }
            TrendMeasure::OxygenSaturation => {
                vec![self.blood.iter().map(|&(at, _, saturation)| (at, saturation)).collect()]
            }
        };
        clip(&pieces, self.from_min, self.to_min)
    }

    /// A value of each breath at its end, with a gap where nobody breathes.
    fn by_breath(&self, value: impl Fn(&GasBreath) -> f64) -> Vec<Piece> {
        let mut pieces: Vec<Piece> = vec![Vec::new()];
        for breath in &self.breaths {
            let end_s = breath.start.as_s() + breath.duration.as_s();
            if breath.duration.as_s() > LONGEST_BREATH_S {
                pieces.push(Vec::new());
                continue;
            }
            if let Some(piece) = pieces.last_mut() {
                piece.push((end_s / 60.0, value(breath)));
            }
        }
        pieces.retain(|piece| !piece.is_empty());
        pieces
    }
}

fn pen(measure: TrendMeasure) -> Pen {
    match measure {
        TrendMeasure::EndTidalCarbonDioxide => theme::CARBON_DIOXIDE,
        TrendMeasure::InspiredCarbonDioxide => theme::ALVEOLAR,
        TrendMeasure::MeanInspiredCarbonDioxide => theme::MUSCLE,
        TrendMeasure::ArterialCarbonDioxide => theme::ARTERIAL,
        TrendMeasure::OxygenSaturation => theme::OXYGEN,
        TrendMeasure::MinuteVolume => theme::VOLUME,
    }
}
