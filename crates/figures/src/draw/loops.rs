//! One breath of each run as a loop.

use tidewright::machine::Signal;
use tidewright_scenario::Scenario;

use super::source::L_MIN;
use super::{DrawFileError, capnogram, kept_together, simulation, varied};
use crate::curve::Piece;
use crate::file::{Loop, LoopKind, Trace, Variant};
use crate::language::ENGLISH;
use crate::panel::{Curve, Panel};
use crate::stack::Stack;
use crate::theme;

/// Chords of each piece of a loop: more than anyone could see.
const CHORDS: u32 = 64;
/// Longest run in search of the breath, s.
pub(super) const LONGEST_S: f64 = 600.0;

pub(super) fn stack<'a>(
    figure: &Loop,
    plain: &Scenario,
    teacher: bool,
) -> Result<Stack<'a>, DrawFileError> {
    let (pressure, flow) = ((Signal::AirwayPressure, 1.0), (Signal::AirwayFlow, L_MIN));
    let volume = (Signal::LungVolume, 1.0);
    let (x, y, trace, along) = match figure.of {
        LoopKind::PressureVolume => (pressure, volume, Trace::LungVolume, ENGLISH.along_pressure),
        LoopKind::FlowVolume => (volume, flow, Trace::AirwayFlow, ENGLISH.along_volume),
        LoopKind::CarbonDioxideVolume => return capnogram::stack(figure, plain, teacher),
    };
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
    let quantity = ENGLISH.signal(trace);
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
                0 => s.piece.first(s.machine, signal),
                CHORDS => s.piece.last(s.machine, signal),
                _ => s.piece.at(s.machine, signal, share * s.piece.duration_s),
            };
            value * factor
        };
        (0..=CHORDS).map(|i| (value(x, i), value(y, i))).collect::<Piece>()
    };
    Ok(vec![within.flat_map(points).collect()])
}
