//! Measures of the breath that a setup settles to: sweeps, bars, maps.

use tidewright::breath::Breath;
use tidewright::machine::Machine;
use tidewright::quantity::Mass;
use tidewright::run::ProtocolError;
use tidewright::steady;
use tidewright_scenario::Scenario;
use tidewright_scenario::format::{
    Change, Compartment, CyclingPressure, ExpiratoryTime, FreshGasFlow, InspiratoryTimeLimit, Leak,
    LeakLaw, Lung,
};
use tidewright_scenario::measure::BreathMeasure;

use super::error::DrawFileError;
use super::run::{kept_together, varied};
use crate::file::language::{ENGLISH, Quantity};
use crate::file::{Bars, Map, Range, Sweep};
use crate::paper::curve::Piece;
use crate::paper::theme;
use crate::plot::panel::{Block, Curve, Panel, share_key};
use crate::plot::stack::Stack;
use crate::plot::ticks::{Ticks, number};

/// Settled breaths along a curve; where it bends or jumps no one sees closer.
const STEPS: u32 = 120;
/// Most columns and rows of a map that leave room for a number in each cell.
const MOST_CELLS: usize = 8;

pub(super) fn sweep<'a>(sweep: &Sweep, plain: &Scenario) -> Result<Stack<'a>, DrawFileError> {
    let weight = Mass::kg(plain.patient.weight_kg);
    let (low, high) = sweep.over.ends();
    let mut panels: Vec<Panel> = sweep.metrics.iter().map(|&metric| panel(metric)).collect();
    for (variant, pen) in sweep.curves.iter().zip(theme::FAMILY) {
        let scenario = varied(plain, &variant.set);
        let mut pieces: Vec<Piece> = vec![Vec::new(); panels.len()];
        for i in 0..=STEPS {
            let value = low + (high - low) * f64::from(i) / f64::from(STEPS);
            let set = [sweep.over.change(value)];
            let breath = settled(&varied(&scenario, &set), &variant.label)?;
            for (piece, &metric) in pieces.iter_mut().zip(&sweep.metrics) {
                piece.push((value, metric.of(&breath, weight)));
            }
        }
        for (panel, piece) in panels.iter_mut().zip(pieces) {
            let label = kept_together(&variant.label);
            panel.curves.push(Curve { label, pen, pieces: vec![piece] });
        }
    }
    share_key(&mut panels);
    Ok(Stack::over(ENGLISH.setting(&sweep.over), low, high, panels))
}

pub(super) fn bars<'a>(bars: &Bars, plain: &Scenario) -> Result<Stack<'a>, DrawFileError> {
    let weight = Mass::kg(plain.patient.weight_kg);
    let mut panels: Vec<Panel> = bars.metrics.iter().map(|&metric| panel(metric)).collect();
    for (i, variant) in bars.bars.iter().enumerate() {
        let breath = settled(&varied(plain, &variant.set), &variant.label)?;
        for (panel, &metric) in panels.iter_mut().zip(&bars.metrics) {
            let value = metric.of(&breath, weight);
            panel.blocks.push(Block {
                x: i as f64 - 0.3..i as f64 + 0.3,
                y: 0.0..value,
                shade: if i == 0 { 0.25 } else { 0.6 },
                value,
                text: number(value),
            });
        }
    }
    let names: Vec<String> = bars.bars.iter().map(|bar| bar.label.clone()).collect();
    let end = names.len() as f64 - 0.5;
    Ok(Stack { names, ..Stack::over("", -0.5, end, panels) })
}

pub(super) fn map<'a>(map: &Map, plain: &Scenario) -> Result<Stack<'a>, DrawFileError> {
    let weight = Mass::kg(plain.patient.weight_kg);
    let (columns, rows) = (values(&map.over), values(&map.and));
    let mut panel = panel(map.metric);
    panel.rows = rows.iter().map(|&value| number(value)).collect();
    panel.axis = Some(ENGLISH.setting(&map.and).to_owned());
    let mut cells = Vec::new();
    for (i, &x) in columns.iter().enumerate() {
        for (j, &y) in rows.iter().enumerate() {
            let set = [map.over.change(x), map.and.change(y)];
            let breath = settled(&varied(plain, &set), "a cell of the map")?;
            cells.push((i as f64, j as f64, map.metric.of(&breath, weight)));
        }
    }
    let most = cells.iter().map(|cell| cell.2).fold(0.0, f64::max).max(1e-9);
    panel.blocks = cells
        .into_iter()
        .map(|(x, y, value)| Block {
            x: x - 0.5..x + 0.5,
            y: y - 0.5..y + 0.5,
            shade: value / most,
            value,
            text: number(value),
        })
        .collect();
    let names: Vec<String> = columns.iter().map(|&value| number(value)).collect();
    let end = names.len() as f64 - 0.5;
    Ok(Stack { names, ..Stack::over(ENGLISH.setting(&map.over), -0.5, end, vec![panel]) })
}

/// Round values over a range.
fn values(range: &Range) -> Vec<f64> {
    let (low, high) = range.ends();
    Ticks::new(low, high, MOST_CELLS).at
}

fn panel(metric: BreathMeasure) -> Panel {
    Panel::of(Quantity::of(metric), 0.1)
}

fn settled(scenario: &Scenario, label: &str) -> Result<Breath, DrawFileError> {
    let setup = scenario.protocol().start;
    let machine =
        Machine::new(setup).map_err(|source| ProtocolError::Setup { from_s: 0.0, source })?;
    let breath = match scenario.begins_with_drive() {
        true => Err(steady::SteadyError::Effort),
        false => steady::periodic(&machine),
    };
    match breath {
        Ok(settled) => Ok(settled.breath),
        Err(source) => Err(DrawFileError::Steady { label: label.to_owned(), source }),
    }
}

impl Range {
    /// Both ends, in the unit of the axis.
    pub(crate) fn ends(&self) -> (f64, f64) {
        match self {
            Self::FreshGasFlow(range) => (range.from_l_min, range.to_l_min),
            Self::CyclingPressure(range) => (range.from_cmh2o, range.to_cmh2o),
            Self::InspiratoryTimeLimit(range) | Self::ExpiratoryTime(range) => {
                (range.from_s, range.to_s)
            }
            Self::Leak(range) => (range.from_ml_min / 1e3, range.to_ml_min / 1e3),
            Self::Compliance(range) => (range.from_ml_cmh2o, range.to_ml_cmh2o),
            Self::Resistance(range) => (range.from_cmh2o_s_l, range.to_cmh2o_s_l),
        }
    }

    /// The change to one of its values, in the unit of the axis.
    fn change(&self, value: f64) -> Change {
        let lung = |compliance, resistance| {
            Change::Lung(Lung::Single(Compartment::plain(compliance, resistance)))
        };
        match self {
            Self::FreshGasFlow(_) => Change::FreshGasFlow(FreshGasFlow { l_min: value }),
            Self::CyclingPressure(_) => Change::CyclingPressure(CyclingPressure { cmh2o: value }),
            Self::InspiratoryTimeLimit(_) => {
                Change::InspiratoryTimeLimit(InspiratoryTimeLimit { s: value })
            }
            Self::ExpiratoryTime(_) => Change::ExpiratoryTime(ExpiratoryTime { s: value }),
            Self::Leak(_) => {
                Change::Leak(Leak { ml_min: 1e3 * value, at_cmh2o: 30.0, law: LeakLaw::Linear })
            }
            Self::Compliance(range) => lung(value, range.resistance_cmh2o_s_l),
            Self::Resistance(range) => lung(range.compliance_ml_cmh2o, value),
        }
    }
}
