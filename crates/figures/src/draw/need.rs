//! Rebreathing at a T-piece over the fresh gas flow, breaths given.

use rayon::prelude::*;
use tidewright::exchange::{
    Conditions, Exchange, GasState, GivenBreaths, Pattern, SettledGas, fresh_gas_need,
};
use tidewright::quantity::{Seconds, Volume};
use tidewright_scenario::Scenario;

use super::error::DrawFileError;
use super::run::kept_together;
use crate::file::language::ENGLISH;
use crate::file::{BreathPattern, FreshGasNeed, NeedCurve, NeedMeasure, NeedPanel, Published};
use crate::paper::curve::Piece;
use crate::paper::theme;
use crate::plot::event::Event;
use crate::plot::panel::{Curve, Panel};
use crate::plot::stack::Stack;

/// Points along a curve.
const STEPS: u32 = 12;
/// Points along the curve of the need, which is a formula.
const PAUSES: u32 = 100;
/// Half the width of the end of a bar, as a part of the axis.
const BAR: f64 = 0.012;
/// A fresh gas flow that leaves nothing to breathe again, over the minute volume.
const PLENTY: f64 = 10.0;

pub(super) fn stack<'a>(
    figure: &FreshGasNeed,
    scenario: &Scenario,
    teacher: bool,
) -> Result<Stack<'a>, DrawFileError> {
    let panels = figure.panels.par_iter();
    let panels = panels.map(|panel| drawn(figure, panel, scenario, teacher));
    let mut panels = panels.collect::<Result<Vec<_>, _>>()?;
    // The need is the answer of the quiz, and what others found points to it.
    if let Some(most) = figure.need_to_pause_percent.filter(|_| teacher) {
        let points = (0..=PAUSES).rev().filter_map(|i| {
            let percent = most * f64::from(i) / f64::from(PAUSES);
            Some((fresh_gas_need(percent / 100.0)?, percent))
        });
        let label = ENGLISH.free.to_owned();
        let pieces = vec![points.collect()];
        let curve = Curve { label, pen: theme::ARTERIAL, pieces };
        panels.push(Panel { curves: vec![curve], key: true, ..Panel::of(ENGLISH.pause, 1.0) });
    }
    let mut stack = Stack::over(ENGLISH.along_need, figure.from_ratio, figure.to_ratio, panels);
    stack.events = thresholds(figure);
    Ok(stack)
}

/// Where sinusoids in plug flow need no more, by the closed form.
fn thresholds(figure: &FreshGasNeed) -> Vec<Event> {
    let curves = figure.panels.iter().flat_map(|panel| &panel.curves);
    let mut events: Vec<Event> = Vec::new();
    for curve in curves {
        let BreathPattern::Sinusoid(sinusoid) = curve.breaths else { continue };
        let Some(at) = fresh_gas_need(sinusoid.pause_percent / 100.0) else { continue };
        let within = figure.from_ratio <= at && at <= figure.to_ratio;
        if within && !events.iter().any(|event| event.at_s == at) {
            let label = format!("{}: {at:.2}", curve.label);
            events.push(Event { at_s: at, label });
        }
    }
    events.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    events
}

fn drawn(
    figure: &FreshGasNeed,
    panel: &NeedPanel,
    scenario: &Scenario,
    teacher: bool,
) -> Result<Panel, DrawFileError> {
    let mut drawn = Panel { key: true, ..Panel::of(ENGLISH.need(panel.of), 0.5) };
    for published in panel.published.iter().filter(|_| teacher) {
        drawn.curves.push(others(figure, published));
    }
    let pieces = panel.curves.par_iter().map(|curve| along(figure, panel, curve, scenario));
    let pieces = pieces.collect::<Result<Vec<_>, _>>()?;
    for ((curve, piece), pen) in panel.curves.iter().zip(pieces).zip(theme::FAMILY) {
        let label = kept_together(&curve.label);
        drawn.curves.push(Curve { label, pen, pieces: vec![piece] });
    }
    Ok(drawn)
}

/// A curve from the most fresh gas, where the balance is known best, to the least.
fn along(
    figure: &FreshGasNeed,
    panel: &NeedPanel,
    curve: &NeedCurve,
    scenario: &Scenario,
) -> Result<Piece, DrawFileError> {
    let bench = Bench::of(panel, curve, scenario)?;
    let (mut piece, mut last) = (Vec::new(), None);
    for i in (0..=STEPS).rev() {
        let share = f64::from(i) / f64::from(STEPS);
        let ratio = figure.from_ratio + share * (figure.to_ratio - figure.from_ratio);
        let settled = bench.settled_after(last.as_ref(), ratio, &curve.label)?;
        piece.push((ratio, value(&settled.0, panel.of)));
        last = Some(settled);
    }
    piece.reverse();
    Ok(piece)
}

fn value(settled: &SettledGas, of: NeedMeasure) -> f64 {
    match of {
        NeedMeasure::MeanInspiredCarbonDioxide => 100.0 * settled.mean_inspired_carbon_dioxide,
        NeedMeasure::HighestInspiredCarbonDioxide => {
            100.0 * settled.highest_inspired_carbon_dioxide
        }
        NeedMeasure::EndTidalCarbonDioxide => settled.end_tidal_carbon_dioxide.as_mmhg(),
    }
}

/// What others found: their points joined, each with a bar as high as its spread.
fn others(figure: &FreshGasNeed, published: &Published) -> Curve {
    let half = BAR * (figure.to_ratio - figure.from_ratio);
    let mut pieces: Vec<Piece> = Vec::new();
    if published.points.len() > 1 {
        pieces.push(published.points.iter().map(|point| (point.ratio, point.value)).collect());
    }
    for point in published.points.iter().filter(|point| point.spread > 0.0) {
        let (low, high) = (point.value - point.spread, point.value + point.spread);
        for level in [low, point.value, high] {
            pieces.push(vec![(point.ratio - half, level), (point.ratio + half, level)]);
        }
        pieces.push(vec![(point.ratio, low), (point.ratio, high)]);
    }
    Curve { label: kept_together(&published.label), pen: theme::PUBLISHED, pieces }
}

/// The patient at a limb, and the breaths that it is given.
struct Bench {
    exchange: Exchange,
    now: Conditions,
    breaths: GivenBreaths,
}

impl Bench {
    fn of(
        panel: &NeedPanel,
        curve: &NeedCurve,
        scenario: &Scenario,
    ) -> Result<Self, DrawFileError> {
        let plan = scenario.gas_plan()?.ok_or(DrawFileError::NoGas)?;
        let (limb_ml, tidal_ml) = (plan.exchange.apparatus.limb_ml, panel.tidal_volume_ml);
        if limb_ml < tidal_ml {
            return Err(DrawFileError::ShortLimb { limb_ml, tidal_ml });
        }
        let breaths = GivenBreaths {
            pattern: match curve.breaths {
                BreathPattern::Sinusoid(of) => {
                    Pattern::Sinusoid { pause: of.pause_percent / 100.0 }
                }
                BreathPattern::Inflated(of) => Pattern::Inflation {
                    inflation: of.inflation_percent / 100.0,
                    time_constant: Seconds::s(of.time_constant_s),
                },
            },
            tidal: Volume::ml(panel.tidal_volume_ml),
            cycle: Seconds::s(60.0 / panel.rate_per_min),
        };
        let mut bench = Self { exchange: plan.exchange, now: plan.start.conditions, breaths };
        if let Some(wanted) = panel.end_tidal_without_mmhg {
            // The whole is as good as linear, so this is found at once.
            let mut last = None;
            for _ in 0..2 {
                let found = bench.settled_after(last.as_ref(), PLENTY, &curve.label)?;
                let times = wanted / found.0.end_tidal_carbon_dioxide.as_mmhg();
                bench.now.demand.carbon_dioxide_ml_s *= times;
                bench.now.demand.oxygen_ml_s *= times;
                last = Some(found);
            }
        }
        let apparatus = &mut bench.exchange.apparatus;
        (apparatus.limb_mixing, apparatus.limb_parcels) =
            curve.limb_mixing.in_parcels(curve.limb_parcels);
        Ok(bench)
    }

    fn settled_after(
        &self,
        near: Option<&(SettledGas, GasState)>,
        ratio: f64,
        label: &str,
    ) -> Result<(SettledGas, GasState), DrawFileError> {
        let fresh = self.breaths.minute_volume() * ratio;
        let settled = self.breaths.settled_after(near, &self.exchange, &self.now, fresh);
        settled.ok_or_else(|| DrawFileError::NoBalance { label: label.to_owned(), ratio })
    }
}
