//! The gas of a run, as curves.

use tidewright::coupled::{Coupled, GasPoint, Together};
use tidewright::exchange::{Fowler, Steps, USUAL_STEPS};
use tidewright::instrument::{InstrumentError, Instruments, Recorder};
use tidewright::step::StepError;
use tidewright::trace::Trace as RunTrace;

use crate::paper::curve::Piece;

/// Steps that show the dead space and its front as curves, not as stairs.
const FINE: Steps = match Steps::new(0.02, 0.02) {
    Ok(steps) => steps,
    Err(_) => USUAL_STEPS,
};

/// A run with its gas, kept from a time on.
pub(super) struct Record<'a> {
    pub trace: RunTrace<'a>,
    /// Point after point, none without gas.
    pub points: Vec<GasPoint>,
}

impl<'a> Record<'a> {
    /// A run up to some time after a window, with gas points from the window on, close
    /// together in it.
    pub fn within(mut coupled: Coupled<'a>, from_s: f64, to_s: f64) -> Result<Self, StepError> {
        let mut record = Self { trace: RunTrace { stretches: Vec::new() }, points: Vec::new() };
        while let Some(together) = coupled.next() {
            let Together { stretch, gas } = together?;
            // The stretch under way at that time may be a whole breath long.
            let (start_s, end_s) = (stretch.piece.start_s, stretch.piece.end_s());
            let shown = end_s + LEAD_S >= from_s && start_s <= to_s;
            coupled.follow_in(if shown { FINE } else { USUAL_STEPS });
            let done = start_s > to_s + BREATH_S;
            record.trace.stretches.push(stretch);
            if let Some(gas) = gas {
                record.points.extend(gas.points.into_iter().filter(|p| p.at_s >= from_s - LEAD_S));
            }
            if done {
                break;
            }
        }
        Ok(record)
    }

    /// What a gauge shows from the start of the run on.
    pub fn gauge(&self, instruments: Instruments) -> Result<Vec<Piece>, InstrumentError> {
        let mut recorder = Recorder::new(instruments)?;
        let mut piece = Piece::new();
        for stretch in &self.trace.stretches {
            let read = |r: tidewright::instrument::Reading| {
                piece.push((r.at.as_s(), r.pressure.as_cmh2o()));
            };
            recorder.take(stretch, read);
        }
        Ok(vec![piece])
    }

    /// A reading of the gas over time; nothing in a run without gas.
    pub fn curve(&self, of: Reading) -> Vec<Piece> {
        let mut piece = Piece::new();
        for point in &self.points {
            let (at, value) = (of.time(point), (of.value)(point));
            // On a level run, only its end moves.
            if let [.., (_, before), (end, last)] = &mut piece[..]
                && *before == value
                && *last == value
            {
                *end = at;
                continue;
            }
            piece.push((at, value));
        }
        vec![piece]
    }

    /// Samples of a breath: those of the step that begins with it or later, and end
    /// with it or earlier.
    pub fn during(&self, from_s: f64, to_s: f64) -> Vec<GasPoint> {
        let within =
            |p: &&GasPoint| p.at_s - p.step_s >= from_s - SAME_S && p.at_s <= to_s + SAME_S;
        self.points.iter().filter(within).copied().collect()
    }
}

/// Times nearer than this are the same, s.
const SAME_S: f64 = 1e-6;
/// How long after a window a breath that turned within it may go on, s.
const BREATH_S: f64 = 120.0;
/// How long before a time the gas is already followed in fine steps, s.
const LEAD_S: f64 = 12.0;

/// A value of the gas, and when in its step it holds.
#[derive(Clone, Copy)]
pub(super) struct Reading {
    pub value: fn(&GasPoint) -> f64,
    /// Whether it is a mean over the step and not the state at its end.
    pub mean: bool,
}

impl Reading {
    fn time(self, point: &GasPoint) -> f64 {
        if self.mean { point.at_s - point.step_s / 2.0 } else { point.at_s }
    }
}

/// The points of a breath from where gas goes in: while the tubing fills, the last of the
/// breath before still comes out.
fn once_in(points: &[GasPoint]) -> &[GasPoint] {
    let first = points.iter().position(|point| point.volume_ml > 0.0);
    &points[first.unwrap_or(0)..]
}

/// The expiration of a breath as Fowler reads it: (volume mL, mmHg) of each step.
pub(super) fn expired(points: &[GasPoint]) -> Vec<(f64, f64)> {
    let out = once_in(points).iter().filter(|point| point.volume_ml < 0.0);
    out.map(|point| (-point.volume_ml, point.carbon_dioxide_mmhg)).collect()
}

/// When the phases of a capnogram end, s: 0 (gas goes in), I (gas of the dead
/// space), II (the upstroke), III (the plateau).
pub(super) struct Phases {
    pub starts_s: f64,
    pub ends_s: [f64; 4],
}

/// Share of the plateau's line at which the upstroke has begun, and that at which it
/// has reached the plateau.
const UPSTROKE: (f64, f64) = (0.05, 0.95);

impl Phases {
    /// Of one breath's points; nothing where it has no plateau.
    pub fn of(points: &[GasPoint]) -> Option<Self> {
        Self::read(points, |point| Some(point.carbon_dioxide_mmhg), 0.0)
    }

    /// The same as a monitor shows them that is late by `delay_s`: `later` goes on as long
    /// after the breath.
    pub fn shown(points: &[GasPoint], later: &[GasPoint], delay_s: f64) -> Option<Self> {
        let shown = |point: &GasPoint| {
            let then = later.partition_point(|one| one.at_s < point.at_s + delay_s - SAME_S);
            later.get(then).map(|one| one.shown_carbon_dioxide_mmhg)
        };
        Self::read(points, shown, delay_s)
    }

    fn read(
        points: &[GasPoint],
        level_of: impl Fn(&GasPoint) -> Option<f64>,
        late_s: f64,
    ) -> Option<Self> {
        let fowler = Fowler::of(&expired(points))?;
        let points = once_in(points);
        let foot = points.iter().filter(|p| p.volume_ml > 0.0).map(|p| p.carbon_dioxide_mmhg);
        let foot = foot.fold(f64::INFINITY, f64::min);
        let first = points.iter().find(|point| point.volume_ml < 0.0)?;
        // The line may pass above all of a curve whose front reaches far into the breath.
        let levels = points.iter().filter(|point| point.volume_ml < 0.0).map(&level_of);
        let highest = levels.flatten().fold(foot, f64::max);
        let (mut out_ml, mut begun, mut reached) = (0.0, None, None);
        let mut last = first;
        for point in points.iter().filter(|point| point.volume_ml < 0.0) {
            let line = fowler.plateau_at(out_ml - point.volume_ml / 2.0).min(highest);
            out_ml -= point.volume_ml;
            let level = |share: f64| foot + share * (line - foot);
            let now = level_of(point)?;
            if now >= level(UPSTROKE.0) {
                begun.get_or_insert(point.at_s - point.step_s);
            }
            if now >= level(UPSTROKE.1) {
                reached.get_or_insert(point.at_s);
            }
            last = point;
        }
        let ends_s = [first.at_s - first.step_s, begun?, reached?, last.at_s];
        let ends_s = ends_s.map(|end_s| end_s + late_s);
        Some(Self { starts_s: points.first()?.at_s - points.first()?.step_s + late_s, ends_s })
    }
}
