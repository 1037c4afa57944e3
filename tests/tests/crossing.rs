//! The first crossing is never missed: random machines with several compartments
//! and efforts of every form, against a scan that knows nothing but the values of
//! the solution.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

mod common;

use common::machines::{cases, frame, setup};
use proptest::prelude::*;
use tidewright::prelude::*;

const LOOKS: u32 = 1500;

/// A piece of inspiration, looked at densely, with every local maximum closed in on.
struct Scan<'a> {
    piece: &'a Piece<'a>,
}

impl Scan<'_> {
    fn at(&self, t: f64) -> f64 {
        self.piece.nearest(Signal::SensedPressure, t)
    }

    fn looks(&self) -> impl Iterator<Item = f64> {
        // Square, as much happens at the start; and the whole length evenly.
        let share = |i: u32| f64::from(i) / f64::from(LOOKS);
        let early = (0..=LOOKS).map(move |i| share(i) * share(i) * share(i) * share(i));
        let even = (0..=LOOKS).map(share);
        let mut shares: Vec<f64> = early.chain(even).collect();
        shares.sort_by(f64::total_cmp);
        let duration = self.piece.duration_s;
        shares.into_iter().map(move |share| share * duration)
    }

    /// Largest value, with the neighbourhood of every local maximum searched by thirds.
    fn highest(&self) -> f64 {
        let times: Vec<f64> = self.looks().collect();
        let values: Vec<f64> = times.iter().map(|&t| self.at(t)).collect();
        let mut highest = values[0].max(values[values.len() - 1]);
        for i in 1..times.len() - 1 {
            if values[i] <= values[i - 1] || values[i] < values[i + 1] {
                continue;
            }
            let (mut a, mut b) = (times[i - 1], times[i + 1]);
            highest = highest.max(values[i]);
            for _ in 0..60 {
                let (c, d) = (a + (b - a) / 3.0, b - (b - a) / 3.0);
                let (at_c, at_d) = (self.at(c), self.at(d));
                highest = highest.max(at_c).max(at_d);
                if at_c < at_d {
                    a = c;
                } else {
                    b = d;
                }
            }
        }
        highest
    }
}

/// The moments at which inspirations of a run begin.
fn inspirations(machine: &Machine, count: usize) -> Vec<Moment> {
    let mut moment = Moment::at_rest(machine);
    let mut starts = vec![moment];
    for _ in 0..40 {
        let Ok(done) = step(machine, &moment, 3.0) else { break };
        moment = done.next;
        if done.piece.ended_by == Some(Cause::ExpiratoryTimeOver) {
            starts.push(moment);
        }
    }
    starts.truncate(count);
    starts
}

/// The same setup with other guards on inspiration.
fn guarded(setup: &Setup, cycling: f64, limit_s: f64) -> Machine {
    let mut setup = setup.clone();
    setup.ventilator.mode = Mode::Ventilating;
    setup.ventilator.cycling_pressure = Pressure::cmh2o(cycling);
    setup.ventilator.inspiratory_time_limit = Seconds::s(limit_s);
    Machine::new(setup).unwrap()
}

proptest! {
    #![proptest_config(cases(150))]

    #[test]
    fn twin_dense_scan_finds_no_crossing_before_the_reported_one(
        setup in frame().prop_flat_map(setup),
        shares in prop::collection::vec(0.0..1.0_f64, 4),
    ) {
        let free = guarded(&setup, 1e9, 4.0);
        for start in inspirations(&guarded(&setup, 20.0, 1.0), 3) {
            let piece = step(&free, &start, 4.0).unwrap().piece;
            let scan = Scan { piece: &piece };
            let (first, highest) = (scan.at(0.0), scan.highest());
            let (lowest, top) = piece.range(Signal::SensedPressure);
            let size = 1.0 + highest.abs() + lowest.abs();
            // The range is what the scan sees, no less and no more.
            prop_assert!((top - highest).abs() <= 1e-10 * size, "{top} or {highest} at most");
            prop_assert!(scan.looks().all(|t| scan.at(t) >= lowest - 1e-12 * size));

            // Levels on the way up, and levels that the highest point just touches.
            let rise = highest - first;
            let on_the_way = shares.iter().map(|share| first + share * rise);
            let touching = [1e-6, 1e-9, 1e-11].map(|less| highest - less * size);
            // A pressure that stands still to rounding meets a level or not.
            let rises = |level: &f64| *level > first && *level < highest - 1e-13 * size;
            for level in on_the_way.chain(touching).filter(rises) {
                let machine = guarded(&setup, level, 4.0);
                let found = step(&machine, &start, 4.0).unwrap().piece;
                prop_assert_eq!(found.ended_by, Some(Cause::PressureReached), "{} missed", level);
                let reached = found.duration_s;
                prop_assert!((scan.at(reached) - level).abs() <= 1e-12 * size);
                let early = scan.looks().filter(|&t| t < reached).find(|&t| {
                    scan.at(t) > level + 1e-12 * size
                });
                prop_assert!(early.is_none(), "{level} met at {early:?}, reported {reached}");
            }
            // And what lies above the highest point is never met.
            let above = highest + 1e-9 * size;
            let machine = guarded(&setup, above, 4.0);
            let found = step(&machine, &start, 4.0).unwrap().piece;
            prop_assert!(found.ended_by != Some(Cause::PressureReached), "{above} not there");
        }
    }
}

/// A pressure that has all but come to rest meets its last levels where rounding
/// hides its rise: it meets them there, and not at the limit.
#[test]
fn regress_levels_just_below_the_resting_pressure_are_met_in_time() {
    // The limb's end follows the T-piece, whose port is open to the room. The digits
    // are those of a random machine: whether rounding hides the rise hangs on them.
    let r = Resistance::cmh2o_s_per_l;
    let mut setup = Setup::default();
    setup.lung = Lung::single(Compliance::ml_per_cmh2o(0.05), r(109.40071519131942));
    setup.circuit.patient_port = PatientPort::Open;
    setup.circuit.compliance = Compliance::ml_per_cmh2o(0.5137678943847662);
    setup.circuit.valve_resistance = r(24.207431874985893);
    setup.circuit.leak =
        Some(Leak::linear(Flow::ml_s(0.7029905608330411), Pressure::cmh2o(7.766134576185847)));
    setup.circuit.limb = Some(Limb {
        compliance: Compliance::ml_per_cmh2o(0.04704740303245503),
        resistance: r(51.33632618670015),
        disconnected: false,
    });
    setup.circuit.sensor.place = SensorPlace::ValveEnd;
    setup.ventilator.fresh_gas_flow = Flow::ml_s(1.3403132626141188);
    setup.ventilator.expiratory_time = Seconds::s(0.05);
    let start = inspirations(&guarded(&setup, 20.0, 1.0), 2)[1];
    let free = guarded(&setup, 20.0, 5.0);
    let resting = step(&free, &start, 5.0).unwrap().piece.last(Signal::SensedPressure);
    for i in 1..500 {
        let level = resting * (1.0 - 1e-10 * f64::from(i));
        let machine = guarded(&setup, level, 5.0);
        let found = step(&machine, &start, 5.0).unwrap().piece;
        let reached = found.last(Signal::SensedPressure);
        assert!((reached - level).abs() < 1e-15, "{reached} cmH2O, not {level}");
        assert!(found.duration_s < 0.5, "{level} reported after {} s", found.duration_s);
    }
}

/// Two compartments whose pressures cross over a leak: the airway pressure rises
/// for a moment, while the full compartment empties into the circuit, and falls
/// again. A search by the signs at the ends sees nothing.
#[test]
fn closed_form_a_short_hump_between_two_ends_below_the_level_is_found() {
    let mut setup = Setup::default();
    let part = |c, r| Compartment::new(Compliance::ml_per_cmh2o(c), Resistance::cmh2o_s_per_l(r));
    setup.lung.compartments = vec![part(2.0, 40.0)];
    setup.circuit.compliance = Compliance::ml_per_cmh2o(1.0);
    setup.circuit.leak = Some(Leak::linear(Flow::ml_s(10.0), Pressure::cmh2o(10.0)));
    setup.ventilator.fresh_gas_flow = Flow::ZERO;
    setup.ventilator.end_expiratory_pressure = Pressure::ZERO;
    // The chest is pressed for half a second and let go, without any flow.
    setup.effort = Effort {
        segments: vec![Segment {
            duration: Seconds::s(0.5),
            course: Course::HalfSine(Pressure::cmh2o(-10.0)),
        }],
    };
    let free = guarded(&setup, 1e9, 0.5);
    let piece = step(&free, &Moment::at_rest(&free), 0.5).unwrap().piece;
    let scan = Scan { piece: &piece };
    let highest = scan.highest();
    assert!(scan.at(0.0) < 0.1 * highest && scan.at(0.5) < 0.5 * highest);
    for below in [0.2, 1e-3, 1e-6, 1e-9] {
        let machine = guarded(&setup, highest - below, 0.5);
        let found = step(&machine, &Moment::at_rest(&machine), 0.5).unwrap().piece;
        assert_eq!(found.ended_by, Some(Cause::PressureReached));
        assert!((scan.at(found.duration_s) - (highest - below)).abs() < 1e-12);
    }
}
