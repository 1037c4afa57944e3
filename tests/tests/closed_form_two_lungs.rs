//! Two unequal lungs look stiffer and less resistive the faster they breathe.
//! Source: `reference/two-compartment/source.md`.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use std::f64::consts::PI;

use tidewright::prelude::*;
use tidewright_tests::reference::{Row, rows};

#[test]
fn closed_form_of_effective_compliance_and_resistance_by_rate() {
    let rows = rows("two-compartment/data.csv");
    assert_eq!(rows.len(), 70);
    for row in &rows {
        let (compliance, resistance) = effective(row);
        for (column, got) in [
            ("effective_compliance_ml_cmh2o", compliance),
            ("effective_resistance_cmh2o_s_l", resistance),
        ] {
            let want = row.number(column);
            // The slower the breath, the less of the impedance is resistance.
            let allowed = 1e-12 * row.number("impedance_cmh2o_s_l").max(want);
            assert!((got - want).abs() <= allowed, "{column} {got}, not {want}: {row:?}");
        }
    }
}

/// Compliance and resistance that a patient of this row shows to a sine of muscle
/// pressure in standby, once it has gone on for long.
fn effective(row: &Row) -> (f64, f64) {
    let period_s = 60.0 / row.number("rate_per_min");
    let half = |amplitude: f64| Segment {
        duration: Seconds::s(period_s / 2.0),
        course: Course::HalfSine(Pressure::cmh2o(amplitude)),
    };
    let part = |number| {
        Compartment::new(
            Compliance::ml_per_cmh2o(row.number(&format!("compliance_{number}_ml_cmh2o"))),
            Resistance::cmh2o_s_per_l(row.number(&format!("resistance_{number}_cmh2o_s_l"))),
        )
    };
    let tube = Resistance::cmh2o_s_per_l(row.number("tube_resistance_cmh2o_s_l"));
    let start = Setup {
        lung: Lung {
            compartments: vec![part(1), part(2)],
            tube: if tube > Resistance::ZERO { Tube::Linear(tube) } else { Tube::None },
            ..Lung::default()
        },
        effort: Effort { segments: vec![half(5.0), half(-5.0)] },
        circuit: Circuit { compliance: Compliance::ZERO, ..Circuit::default() },
        ventilator: Ventilator { mode: Mode::Standby, ..Ventilator::default() },
    };
    let slowest_s = Machine::new(start.clone()).unwrap().time_constants_s(PhaseKind::Standby)[0];
    let cycles = (40.0 * slowest_s / period_s).ceil() + 2.0;
    let protocol =
        Protocol { start, changes: vec![], duration: Seconds::s((cycles + 1.0) * period_s) };
    let simulation = Simulation::new(&protocol).unwrap();
    let trace = simulation.trace().unwrap();

    // A sinusoid about its mean is known from two instants a quarter period
    // apart; the mean, from the fresh gas, is that of two half a period apart.
    let phasor = |read: &dyn Fn(f64) -> f64| {
        let at = |quarters: f64| read((cycles + (0.5 + quarters) / 4.0) * period_s);
        ((at(0.0) - at(2.0)) / 2.0, (at(1.0) - at(3.0)) / 2.0)
    };
    let signal = |t, signal| trace.at(Seconds::s(t), signal).unwrap();
    let (p0, p1) =
        phasor(&|t| signal(t, Signal::AirwayPressure) + signal(t, Signal::MusclePressure));
    let (q0, q1) = phasor(&|t| signal(t, Signal::AirwayFlow));
    // (p0 − j·p1)/(q0 − j·q1) = R − j/(ωC)
    let size = q0 * q0 + q1 * q1;
    let (real, imaginary) = ((p0 * q0 + p1 * q1) / size, (p0 * q1 - p1 * q0) / size);
    (-period_s / (2.0 * PI * imaginary), 1000.0 * real)
}
