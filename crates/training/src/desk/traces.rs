//! Curves of the last seconds, at an even rate: what the scenario's instruments show
//! where it has any, else the truth; and the capnogram.

use std::collections::VecDeque;

use serde::Serialize;
use tidewright::machine::Signal;

use crate::desk::view;
use crate::session::{Passing, Session};

/// Time that the curves show, s.
pub const WINDOW_S: f64 = 12.0;
/// Points of a curve in each second.
pub const POINTS_PER_S: f64 = 25.0;

/// A curve.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trace {
    /// What it shows, with its unit.
    pub name: &'static str,
    /// Time, s, and value, in order of time.
    pub points: VecDeque<(f64, f64)>,
}

/// The curves of a monitor.
#[derive(Clone, Debug, PartialEq)]
pub struct Traces {
    signals: &'static [(Signal, &'static str)],
    /// Whether instruments show them, not the truth.
    by_instruments: bool,
    curves: Vec<Trace>,
    capnogram: Option<Trace>,
}

impl Traces {
    /// Curves without a point, for the monitor of a session.
    #[must_use]
    pub fn of(session: &Session) -> Self {
        let signals = view::curves(session.training().monitor);
        let empty = |name| Trace { name, points: VecDeque::new() };
        Self {
            signals,
            by_instruments: session.scenario().instruments.is_some(),
            curves: signals.iter().map(|(_, name)| empty(name)).collect(),
            capnogram: view::has_capnogram(session).then(|| empty("carbon dioxide mmHg")),
        }
    }

    /// The curves, the capnogram last.
    pub fn iter(&self) -> impl Iterator<Item = &Trace> {
        self.curves.iter().chain(&self.capnogram)
    }

    /// The capnogram, where the monitor has one.
    #[must_use]
    pub fn capnogram(&self) -> Option<&Trace> {
        self.capnogram.as_ref()
    }

    /// Takes what passes.
    pub fn take(&mut self, passing: &Passing<'_>) {
        if let Some(capnogram) = &mut self.capnogram {
            let points = passing.gas.iter();
            capnogram.points.extend(points.map(|one| (one.at_s, one.shown_carbon_dioxide_mmhg)));
        }
        if self.by_instruments {
            self.take_readings(passing);
        } else {
            self.take_truth(passing);
        }
    }

    fn take_readings(&mut self, passing: &Passing<'_>) {
        for reading in passing.readings {
            let t = reading.at.as_s();
            let late = |last: &(f64, f64)| t - last.0 >= 1.0 / POINTS_PER_S;
            for (curve, (signal, _)) in self.curves.iter_mut().zip(self.signals) {
                let value = match signal {
                    Signal::AirwayFlow => reading.flow.as_ml_s(),
                    Signal::LungVolume => reading.volume.as_ml(),
                    _ => reading.pressure.as_cmh2o(),
                };
                if curve.points.back().is_none_or(late) {
                    curve.points.push_back((t, value));
                }
            }
        }
    }

    fn take_truth(&mut self, passing: &Passing<'_>) {
        let piece = &passing.stretch.piece;
        // Each point at exactly its number over the rate: sums of steps would drift.
        let mut number = (passing.since_s * POINTS_PER_S).ceil();
        while number / POINTS_PER_S <= piece.end_s() {
            let t = number / POINTS_PER_S;
            if t > passing.since_s {
                for (curve, (signal, _)) in self.curves.iter_mut().zip(self.signals) {
                    let value = piece.nearest(*signal, t - piece.start_s);
                    curve.points.push_back((t, value));
                }
            }
            number += 1.0;
        }
    }

    /// Forgets what is older, s.
    pub fn forget_before(&mut self, from_s: f64) {
        for curve in self.curves.iter_mut().chain(&mut self.capnogram) {
            let old = curve.points.partition_point(|&(t, _)| t < from_s);
            curve.points.drain(..old);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;

    fn drawn(text: &str, ticks: usize) -> Traces {
        let scenario = Arc::new(tidewright_scenario::parse("a.ron", text).expect("a lesson"));
        let mut session = Session::new(scenario, 3).expect("a session");
        let mut traces = Traces::of(&session);
        for tick in 1..=ticks {
            let until_s = 20.0 * tick as f64 / ticks as f64;
            session.advance(until_s, &mut |passing| traces.take(passing)).expect("a run");
        }
        traces
    }

    #[test]
    fn a_curve_is_the_same_however_often_the_screen_looks_and_has_an_even_rate() {
        let juno = tidewright_shelf::lesson("juno").expect("a lesson").text;
        let often = drawn(juno, 487);
        assert_eq!(often, drawn(juno, 1));
        assert_eq!(often.iter().count(), 3);
        for curve in often.iter() {
            let gaps = curve.points.iter().zip(curve.points.iter().skip(1));
            assert!(gaps.clone().count() > 480, "{}", curve.name);
            assert!(gaps.map(|(a, b)| b.0 - a.0).all(|gap| (gap - 0.04).abs() < 1e-9));
        }
    }

    #[test]
    fn old_points_go_and_a_lesson_with_gas_has_a_capnogram() {
        let rowan = tidewright_shelf::lesson("rowan").expect("a lesson").text;
        let mut traces = drawn(rowan, 40);
        assert_eq!(traces.iter().last(), traces.capnogram());
        let highest = |traces: &Traces| {
            let points = traces.capnogram().map(|curve| curve.points.clone()).unwrap_or_default();
            points.iter().fold(0.0_f64, |highest, point| highest.max(point.1))
        };
        assert!(highest(&traces) > 30.0);
        traces.forget_before(19.0);
        assert!(traces.iter().all(|curve| curve.points.iter().all(|point| point.0 >= 19.0)));
    }
}
