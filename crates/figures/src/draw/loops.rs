//! One breath of each run as a loop.

use tidewright::machine::Signal;
use tidewright_scenario::Scenario;

use super::error::DrawFileError;
use super::run::{LONGEST_S, kept_together, simulation, varied};
use super::source::L_MIN;
use crate::file::language::ENGLISH;
use crate::file::{Loop, Trace, Variant};
use crate::paper::curve::Piece;
use crate::paper::theme;
use crate::plot::panel::{Curve, Panel};
use crate::plot::stack::Stack;

/// Chords of each piece of a loop: more than anyone could see.
const CHORDS: u32 = 64;

/// What is drawn against what: signals, each times a factor.
pub(super) struct Axes {
    x: (Signal, f64),
    y: (Signal, f64),
    /// The signal upward, as figures name it.
    upward: Trace,
    along: &'static str,
}

/// Lung volume over airway pressure.
pub(super) const PRESSURE_VOLUME: Axes = Axes {
    x: (Signal::AirwayPressure, 1.0),
    y: (Signal::LungVolume, 1.0),
    upward: Trace::LungVolume,
    along: ENGLISH.along_pressure,
};

/// Airway flow over lung volume.
pub(super) const FLOW_VOLUME: Axes = Axes {
    x: (Signal::LungVolume, 1.0),
    y: (Signal::AirwayFlow, L_MIN),
    upward: Trace::AirwayFlow,
    along: ENGLISH.along_volume,
};

pub(super) fn stack<'a>(
    figure: &Loop,
    plain: &Scenario,
    Axes { x, y, upward, along }: Axes,
) -> Result<Stack<'a>, DrawFileError> {
    let mut curves = Vec::new();
    for (variant, pen) in figure.curves.iter().zip(theme::FAMILY) {
        let pieces = breath(figure.breath, variant, plain, x, y)?;
        curves.push(Curve { label: kept_together(&variant.label), pen, pieces });
    }
    let reach = |pick: fn(f64, f64) -> f64| {
        let points = curves.iter().flat_map(|curve| curve.pieces.iter().flatten());
        points.map(|point| point.0).fold(0.0, pick)
    };
    let (low, high) = (reach(f64::min), reach(f64::max));
    let quantity = ENGLISH.signal(upward);
    let panel = Panel { curves, key: true, ..Panel::of(quantity, 1.0) };
    let air = 0.05 * (high - low);
    Ok(Stack::over(along, if low < 0.0 { low - air } else { 0.0 }, high + air, vec![panel]))
}

fn breath(
    number: u32,
    variant: &Variant,
    plain: &Scenario,
    x: (Signal, f64),
    y: (Signal, f64),
) -> Result<Vec<Piece>, DrawFileError> {
    let varied = varied(plain, &variant.set);
    let simulation = simulation(&varied, LONGEST_S)?;
    let mut meter = tidewright::breath::BreathMeter::default();
    let mut stretches = Vec::new();
    let mut count = 0;
    let mut breath = None;
    for together in varied.coupled(&simulation)? {
        let stretch = together?.stretch;
        let done = meter.take(&stretch);
        stretches.push(stretch);
        count += usize::from(done.is_some());
        if done.is_some() && count == number as usize {
            breath = done;
            break;
        }
    }
    let breath = breath.ok_or(DrawFileError::NoBreath { breath: number, count })?;
    let start_s = breath.start.as_s();
    let within = stretches.iter().filter(|s| s.piece.start_s >= start_s - 1e-9);
    let points = |s: &tidewright::run::Stretch<'_>| {
        let value = |(signal, factor): (Signal, f64), i: u32| {
            let share = f64::from(i) / f64::from(CHORDS);
            let value = match i {
                0 => s.piece.first(signal),
                CHORDS => s.piece.last(signal),
                _ => s.piece.nearest(signal, share * s.piece.duration_s),
            };
            value * factor
        };
        (0..=CHORDS).map(|i| (value(x, i), value(y, i))).collect::<Piece>()
    };
    Ok(vec![within.flat_map(points).collect()])
}
