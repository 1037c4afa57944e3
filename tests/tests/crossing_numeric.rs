//! The first crossing is never missed on the numeric road either: random curved
//! machines whose patients make efforts of every form, against a dense scan of the
//! same inspiration run without a guard.
//!
//! A guard changes the steps that are taken, so the two runs agree to the road's
//! tolerance and no better: a level that the pressure only touches to within that
//! is met or not.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::machines::{bent, breathing_frame, cases, setup};
use proptest::prelude::*;
use tidewright::prelude::*;

const LOOKS: u32 = 8;
const LIMIT_S: f64 = 4.0;
/// What two runs of a machine may differ by, for pressures up to 1 cmH2O and in
/// proportion above: ten times the tolerance of a step.
const NEAR: f64 = 1e-4;

fn guarded(setup: &Setup, cycling: f64, limit_s: f64) -> Machine {
    let mut setup = setup.clone();
    setup.ventilator.mode = Mode::Ventilating;
    setup.ventilator.cycling_pressure = Pressure::cmh2o(cycling);
    setup.ventilator.inspiratory_time_limit = Seconds::s(limit_s);
    Machine::with_solver(setup, Solver::Numeric).unwrap()
}

/// The moments at which the first inspirations of a run begin.
fn inspirations(machine: &Machine, count: usize) -> Vec<Moment> {
    let mut moment = Moment::at_rest(machine);
    let mut starts = vec![moment];
    for _ in 0..50_000 {
        if starts.len() == count || moment.at_s >= 20.0 {
            return starts;
        }
        let done = step(machine, &moment, 3.0).unwrap();
        moment = done.next;
        if done.piece.ended_by == Some(Cause::ExpiratoryTimeOver) {
            starts.push(moment);
        }
    }
    panic!("at {} s the steps no longer get anywhere", moment.at_s);
}

/// The pieces of one inspiration, and the time in it at which each begins; nothing
/// where the lung is so full, at a pressure beyond all measure, that the run ends.
fn inspiration<'m>(machine: &'m Machine, start: &Moment) -> Option<Vec<(f64, Piece<'m>)>> {
    let (mut moment, mut pieces, mut t) = (*start, vec![], 0.0);
    let mut reached = 0.0;
    loop {
        let done = match step(machine, &moment, LIMIT_S) {
            Ok(done) => done,
            Err(StepError::StandsStill { at_s, .. }) => {
                assert!(reached > 1000.0, "the run stands still at {at_s} s and {reached} cmH2O");
                return None;
            }
            Err(error) => panic!("{error}"),
        };
        moment = done.next;
        reached = done.piece.last(Signal::AirwayPressure);
        let (duration, ended) = (done.piece.duration_s, done.piece.ended_by.is_some());
        pieces.push((t, done.piece));
        t += duration;
        if ended {
            return Some(pieces);
        }
    }
}

struct Scan<'a> {
    pieces: &'a [(f64, Piece<'a>)],
    /// (time, pressure): every piece at even shares of its length, ends included.
    seen: Vec<(f64, f64)>,
}

impl<'a> Scan<'a> {
    fn new(pieces: &'a [(f64, Piece<'a>)]) -> Self {
        let mut seen = vec![];
        for (from, piece) in pieces {
            for i in 0..=LOOKS {
                let t = piece.duration_s * f64::from(i) / f64::from(LOOKS);
                seen.push((from + t, piece.nearest(Signal::SensedPressure, t)));
            }
        }
        Self { pieces, seen }
    }

    /// The pressures just before and just after a time: they differ where effort
    /// jumps.
    fn around(&self, t: f64) -> (f64, f64) {
        let at = |(from, piece): &(f64, Piece<'_>)| {
            let local = (t - from).clamp(0.0, piece.duration_s);
            piece.nearest(Signal::SensedPressure, local)
        };
        let slack = 1e-9;
        let touching = self
            .pieces
            .iter()
            .filter(|(from, piece)| t >= from - slack && t <= from + piece.duration_s + slack)
            .map(at);
        touching.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        })
    }

    /// Largest value: between the looks on either side of those that stand out, it
    /// is searched by thirds.
    fn highest(&self) -> f64 {
        let mut highest = self.seen.iter().fold(f64::NEG_INFINITY, |top, &(_, p)| top.max(p));
        let lowest = self.seen.iter().fold(highest, |low, &(_, p)| low.min(p));
        let worth_it = highest - 0.01 * (highest - lowest);
        for ((from, piece), seen) in
            self.pieces.iter().zip(self.seen.chunks_exact(LOOKS as usize + 1))
        {
            for i in 0..seen.len() {
                let (before, after) = (i.saturating_sub(1), (i + 1).min(seen.len() - 1));
                let stands_out = seen[i].1 >= seen[before].1 && seen[i].1 >= seen[after].1;
                if stands_out && seen[i].1 > worth_it {
                    let at = |t: f64| piece.nearest(Signal::SensedPressure, t);
                    let between = (seen[before].0 - from, seen[after].0 - from);
                    highest = highest.max(by_thirds(at, between));
                }
            }
        }
        highest
    }
}

fn by_thirds(at: impl Fn(f64) -> f64, (mut a, mut b): (f64, f64)) -> f64 {
    let mut highest = f64::NEG_INFINITY;
    for _ in 0..14 {
        let (c, d) = (a + (b - a) / 3.0, b - (b - a) / 3.0);
        let (at_c, at_d) = (at(c), at(d));
        highest = highest.max(at_c).max(at_d);
        if at_c < at_d {
            a = c;
        } else {
            b = d;
        }
    }
    highest
}

proptest! {
    #![proptest_config(cases(25))]

    #[test]
    fn twin_dense_scan_finds_no_earlier_crossing_on_the_numeric_road(
        setup in bent(breathing_frame().prop_flat_map(setup)),
        shares in prop::collection::vec(0.0..1.0_f64, 3),
    ) {
        let free = guarded(&setup, 1e9, LIMIT_S);
        for start in inspirations(&guarded(&setup, 20.0, 1.0), 2) {
            let Some(pieces) = inspiration(&free, &start) else { continue };
            let scan = Scan::new(&pieces);
            let (first, highest) = (scan.seen[0].1, scan.highest());
            let lowest = scan.seen.iter().fold(first, |low, &(_, p)| low.min(p));
            let near = NEAR * (1.0 + highest.abs().max(lowest.abs()));
            let range = |(_, piece): &(f64, Piece<'_>)| piece.range(Signal::SensedPressure).1;
            let top = pieces.iter().map(range).fold(f64::NEG_INFINITY, f64::max);
            prop_assert!((top - highest).abs() <= near, "{top} or {highest} at most");

            let on_the_way = shares.iter().map(|share| first + share * (highest - first));
            let touching = [10.0, 2.0].map(|times| highest - times * near);
            let rises = |level: &f64| *level > first && *level < highest - near;
            for level in on_the_way.chain(touching).filter(rises) {
                let machine = guarded(&setup, level, LIMIT_S);
                let run = inspiration(&machine, &start).unwrap();
                let (from, last) = run.last().unwrap();
                prop_assert_eq!(last.ended_by, Some(Cause::PressureReached), "{} missed", level);
                let reached = from + last.duration_s;
                let (below, above) = scan.around(reached);
                prop_assert!(
                    below <= level + near && above >= level - near,
                    "{level} reported at {reached} s, where the pressure is {below} to {above}"
                );
                // Where effort jumps, the two runs may round the same time differently.
                let early = scan
                    .seen
                    .iter()
                    .find(|&&(t, p)| t < reached - 1e-12 && p > level + near);
                prop_assert!(early.is_none(), "{level} met at {early:?}, reported {reached}");
            }
            let machine = guarded(&setup, highest + near, LIMIT_S);
            let run = inspiration(&machine, &start).unwrap();
            let ended_by = run.last().unwrap().1.ended_by;
            prop_assert!(ended_by != Some(Cause::PressureReached), "{highest} and more not there");
        }
    }
}
