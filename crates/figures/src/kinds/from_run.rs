//! Waveforms of a run. The run holds exact pieces; the points taken here are only
//! a view of them, close enough together that no print could tell.

use std::ops::Range;

use tidewright::breath::EndedBy;
use tidewright::coupled::GasPoint;
use tidewright::machine::Signal;
use tidewright::phase::{Cause, PhaseKind};
use tidewright::run::Stretch;
use tidewright::trace::Trace;

use crate::kinds::waveform::Waveforms;
use crate::paper::curve::Piece;
use crate::plot::event::{BreathEnd, Phase};

/// Parts of a signal's range by which a chord may miss it: a third of a grid
/// unit on a panel 150 px high.
const VALUE_PARTS: f64 = 9000.0;
/// Parts of the window below which a whole piece is but an upright line: a fifth
/// of a CSS pixel.
const TIME_PARTS: f64 = 2000.0;

impl Waveforms {
    /// The waveforms of a run in a window of time, s. The title, and what else a
    /// run does not know, is left for the caller to fill in.
    ///
    /// ```
    /// use tidewright::prelude::*;
    /// use tidewright_figures::{Look, Waveforms};
    ///
    /// let protocol =
    ///     Protocol { start: Setup::default(), changes: vec![], duration: Seconds::s(20.0) };
    /// let simulation = Simulation::new(&protocol)?;
    /// let waveforms = Waveforms {
    ///     title: "First breaths of a 4 kg cat".into(),
    ///     ..Waveforms::from_run(&simulation.trace()?, 0.0..20.0)
    /// };
    /// assert_eq!(waveforms.breath_ends[0].by, EndedBy::Pressure);
    /// let svg = waveforms.figure(&Look::default())?.to_svg();
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn from_run(trace: &Trace<'_>, window_s: Range<f64>) -> Self {
        let shown = shown(trace, &window_s);
        Self {
            start_s: window_s.start,
            end_s: window_s.end,
            airway_pressure_cmh2o: curve(&shown, Signal::AirwayPressure, &window_s),
            airway_flow_ml_s: curve(&shown, Signal::AirwayFlow, &window_s),
            lung_volume_ml: curve(&shown, Signal::LungVolume, &window_s),
            phases: phases(&shown),
            breath_ends: breath_ends(&shown),
            cycling_pressure_cmh2o: cycling_pressure(&shown),
            ..Self::default()
        }
    }
}

impl Waveforms {
    /// The same with what the monitor of carbon dioxide showed: points in order of
    /// time, of which those in the window are drawn. No points, no panel.
    ///
    /// ```
    /// use tidewright_figures::{Look, Waveforms};
    /// use tidewright::run::Simulation;
    /// let text = tidewright_scenario::DEMO.replace("duration_s", "gas: (), duration_s");
    /// let scenario = tidewright_scenario::parse("gas.ron", &text)?;
    /// let simulation = Simulation::new(&scenario.protocol())?;
    /// let (trace, gas) = scenario.coupled(&simulation)?.trace()?;
    /// let figure = Waveforms::from_run(&trace, 0.0..20.0).with_gas(&gas).figure(&Look::PAGE)?;
    /// assert!(figure.to_svg().contains(">CO₂ (mmHg)<"));
    /// assert!(figure.description().contains("capnogram lies between 0 and"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn with_gas(self, points: &[GasPoint]) -> Self {
        let shown = |point: &GasPoint| (point.at_s, point.shown_carbon_dioxide_mmhg);
        let curve: Piece = points.iter().map(shown).collect();
        let capnogram_mmhg = if curve.is_empty() { Vec::new() } else { vec![curve] };
        Self { capnogram_mmhg, ..self }
    }
}

/// A run as seen through a window of time.
pub(crate) struct View<'a> {
    shown: Vec<Shown<'a>>,
    window_s: Range<f64>,
}

impl<'a> View<'a> {
    pub fn of(trace: &'a Trace<'_>, window_s: &Range<f64>) -> Self {
        Self { shown: shown(trace, window_s), window_s: window_s.clone() }
    }

    pub fn curve(&self, signal: Signal) -> Vec<Piece> {
        curve(&self.shown, signal, &self.window_s)
    }

    pub fn phases(&self) -> Vec<Phase> {
        phases(&self.shown)
    }

    pub fn breath_ends(&self) -> Vec<BreathEnd> {
        breath_ends(&self.shown)
    }

    pub fn cycling_pressure(&self) -> Vec<Piece> {
        cycling_pressure(&self.shown)
    }
}

/// A stretch inside the window, and the time at which it ends: the start of the
/// next, which a sum of durations may miss by a rounding error.
struct Shown<'a> {
    stretch: &'a Stretch<'a>,
    end_s: f64,
}

fn shown<'a>(trace: &'a Trace<'_>, window_s: &Range<f64>) -> Vec<Shown<'a>> {
    let stretches = &trace.stretches;
    let end_s = |i: usize| match stretches.get(i + 1) {
        Some(next) => next.piece.start_s,
        None => stretches[i].piece.end_s(),
    };
    (0..stretches.len())
        .map(|i| Shown { stretch: &stretches[i], end_s: end_s(i) })
        .filter(|s| s.stretch.piece.start_s <= window_s.end && s.end_s >= window_s.start)
        .collect()
}

fn curve(shown: &[Shown], signal: Signal, window_s: &Range<f64>) -> Vec<Piece> {
    let range = |shown: &Shown| shown.stretch.piece.range(signal);
    let (low, high) = shown.iter().map(range).fold((0.0, 0.0), union);
    let least_miss = (high - low) / VALUE_PARTS;
    let least_time = (window_s.end - window_s.start) / TIME_PARTS;
    let points = |shown: &Shown| {
        let piece = &shown.stretch.piece;
        let at = |t: f64| (t, piece.nearest(signal, t));
        let from = (0.0, piece.first(signal));
        let to = (piece.duration_s, piece.last(signal));
        let mut points = vec![from];
        if piece.duration_s < least_time {
            let (low, high) = range(shown);
            let middle = 0.5 * piece.duration_s;
            points.extend([(middle, low), (middle, high), to]);
        } else {
            halve(&at, from, to, least_miss, &mut points);
        }
        let in_run = |(t, y): (f64, f64)| ((piece.start_s + t).min(shown.end_s), y);
        points.into_iter().map(in_run).collect()
    };
    shown.iter().map(points).collect()
}

fn union(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    (a.0.min(b.0), a.1.max(b.1))
}

/// Adds the points after `from` up to `to`, cutting the interval in half as long
/// as its chord misses the curve by too much at the quarters.
fn halve(
    at: &impl Fn(f64) -> (f64, f64),
    from: (f64, f64),
    to: (f64, f64),
    least_miss: f64,
    points: &mut Piece,
) {
    let length = to.0 - from.0;
    let misses = |share: f64| {
        let (_, y) = at(from.0 + share * length);
        (y - (from.1 + share * (to.1 - from.1))).abs() > least_miss
    };
    let middle = at(from.0 + 0.5 * length);
    let can_be_cut = from.0 < middle.0 && middle.0 < to.0;
    if can_be_cut && [0.25, 0.5, 0.75].into_iter().any(misses) {
        halve(at, from, middle, least_miss, points);
        halve(at, middle, to, least_miss, points);
    } else {
        points.push(to);
    }
}

/// Phases as the figure names them: the valve delay is part of inspiration, and a
/// change of settings does not end a phase.
fn phases(shown: &[Shown]) -> Vec<Phase> {
    let mut phases: Vec<Phase> = Vec::new();
    for &Shown { stretch, end_s } in shown {
        let kind = match stretch.piece.phase {
            PhaseKind::ValveDelay => PhaseKind::Inspiration,
            kind => kind,
        };
        match phases.last_mut() {
            Some(last) if last.kind == kind => last.end_s = end_s,
            _ => phases.push(Phase { start_s: stretch.piece.start_s, end_s, kind }),
        }
    }
    phases
}

fn breath_ends(shown: &[Shown]) -> Vec<BreathEnd> {
    let by = |i: usize| match shown[i].stretch.piece.ended_by {
        Some(Cause::PressureReached) => Some(EndedBy::Pressure),
        Some(Cause::TimeLimit) => Some(EndedBy::Time),
        Some(Cause::ValveOpened | Cause::ExpiratoryTimeOver) => None,
        None => {
            let next = shown.get(i + 1)?.stretch.piece.phase;
            let inspiring = shown[i].stretch.piece.phase.is_inspiration();
            (inspiring && next == PhaseKind::Standby).then_some(EndedBy::Standby)
        }
    };
    let end = |i: usize| {
        let Shown { stretch, end_s } = shown[i];
        Some(BreathEnd {
            at_s: end_s,
            pressure_cmh2o: stretch.piece.last(Signal::AirwayPressure),
            by: by(i)?,
        })
    };
    (0..shown.len()).filter_map(end).collect()
}

fn cycling_pressure(shown: &[Shown]) -> Vec<Piece> {
    let mut levels: Vec<Piece> = Vec::new();
    for &Shown { stretch, end_s } in shown {
        let level = stretch.machine.setup().ventilator.cycling_pressure.as_cmh2o();
        match levels.last_mut().and_then(|piece| piece.last_mut()) {
            Some(last) if last.1 == level => last.0 = end_s,
            _ => levels.push(vec![(stretch.piece.start_s, level), (end_s, level)]),
        }
    }
    levels
}
