//! Forty linear machines, eight breaths each, against scipy and against a
//! closed form of 50 digits. Source: `reference/linear-breaths/source.md`.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright::prelude::*;
use tidewright_tests::reference::{Row, rows};

/// The columns that are times, and those that are volumes or pressures.
const TIMES: [&str; 3] = ["start_s", "inspiratory_time_s", "expiratory_time_s"];
const AMOUNTS: [&str; 8] = [
    "inspired_tidal_volume_ml",
    "expired_tidal_volume_ml",
    "peak_pressure_cmh2o",
    "mean_pressure_cmh2o",
    "baseline_pressure_cmh2o",
    "end_expiratory_alveolar_pressure_cmh2o",
    "leaked_ml",
    "rate_per_min",
];

#[test]
fn twin_scipy_agrees_on_every_breath_of_every_machine() {
    for (breath, expected) in pairs("linear-breaths/data.csv") {
        same_breath(&breath, &expected, 1e-10, 1e-11);
    }
}

#[test]
fn closed_form_gives_the_same_breaths_to_rounding() {
    for (breath, expected) in pairs("linear-breaths/closed-form.csv") {
        same_breath(&breath, &expected, 1e-12, 1e-12);
    }
}

/// Every breath of the library beside its row in `file`.
fn pairs(file: &str) -> Vec<(Breath, Row)> {
    let expected = rows(file);
    let mut pairs = Vec::new();
    for machine in rows("linear-breaths/machines.csv") {
        let name = machine.text("machine");
        let own: Vec<_> = expected.iter().filter(|row| row.text("machine") == name).collect();
        let last = own.last().unwrap();
        let end_s = TIMES.iter().map(|column| last.number(column)).sum::<f64>() + 0.001;
        let protocol =
            Protocol { start: setup(&machine), changes: vec![], duration: Seconds::s(end_s) };
        let (breaths, _) = Simulation::new(&protocol).unwrap().breaths().unwrap();
        assert_eq!(breaths.len(), own.len(), "{name}");
        pairs.extend(breaths.into_iter().zip(own.into_iter().cloned()));
    }
    assert_eq!(pairs.len(), expected.len());
    pairs
}

fn setup(row: &Row) -> Setup {
    let leak_ml_min = row.number("leak_ml_min");
    Setup {
        lung: Lung::single(
            Compliance::ml_per_cmh2o(row.number("compliance_ml_cmh2o")),
            Resistance::cmh2o_s_per_l(row.number("resistance_cmh2o_s_l")),
        ),
        circuit: Circuit {
            compliance: Compliance::ml_per_cmh2o(row.number("circuit_compliance_ml_cmh2o")),
            valve_resistance: Resistance::cmh2o_s_per_l(row.number("valve_resistance_cmh2o_s_l")),
            leak: (leak_ml_min > 0.0).then(|| {
                let at = Pressure::cmh2o(row.number("leak_at_cmh2o"));
                Leak::linear(Flow::ml_s(leak_ml_min / 60.0), at)
            }),
            patient_port: match row.text("patient_port") {
                "connected" => PatientPort::Connected,
                "blocked" => PatientPort::Blocked,
                other => panic!("patient port {other}"),
            },
            ..Circuit::default()
        },
        effort: Effort::none(),
        ventilator: Ventilator {
            mode: Mode::Ventilating,
            fresh_gas_flow: Flow::l_per_min(row.number("fresh_gas_flow_l_min")),
            cycling_pressure: Pressure::cmh2o(row.number("cycling_pressure_cmh2o")),
            inspiratory_time_limit: Seconds::s(row.number("inspiratory_time_limit_s")),
            expiratory_time: Seconds::s(row.number("expiratory_time_s")),
            end_expiratory_pressure: Pressure::cmh2o(row.number("end_expiratory_pressure_cmh2o")),
            valve_delay: Seconds::s(row.number("valve_delay_s")),
        },
    }
}

/// Times within `time_s`; volumes and pressures within `relative` of their size,
/// or of one thousandth of a unit where they are smaller than that.
fn same_breath(breath: &Breath, expected: &Row, time_s: f64, relative: f64) {
    let place = format!("{} breath {}", expected.text("machine"), breath.number);
    let ended_by = match breath.ended_by {
        EndedBy::Pressure => "pressure",
        EndedBy::Time => "time",
        EndedBy::Standby => "standby",
    };
    assert_eq!(ended_by, expected.text("ended_by"), "{place}");
    // Where pressure creeps past the cycling pressure, its last bit is worth this long.
    let allowed = time_s + 4.0 * expected.number("inspiratory_time_rounding_s");
    for column in TIMES {
        let (got, want) = (value(breath, column), expected.number(column));
        let allowed = match column {
            "start_s" => breath.number as f64 * allowed,
            _ => allowed,
        };
        assert!((got - want).abs() <= allowed, "{place}: {column} {got} instead of {want}");
    }
    for column in AMOUNTS {
        let (got, want) = (value(breath, column), expected.number(column));
        let allowed = relative * want.abs().max(1e-3);
        assert!((got - want).abs() <= allowed, "{place}: {column} {got} instead of {want}");
    }
}

fn value(breath: &Breath, column: &str) -> f64 {
    match column {
        "start_s" => breath.start.as_s(),
        "inspiratory_time_s" => breath.inspiratory_time.as_s(),
        "expiratory_time_s" => breath.expiratory_time.as_s(),
        "inspired_tidal_volume_ml" => breath.inspired_tidal_volume.as_ml(),
        "expired_tidal_volume_ml" => breath.expired_tidal_volume.as_ml(),
        "peak_pressure_cmh2o" => breath.peak_pressure.as_cmh2o(),
        "mean_pressure_cmh2o" => breath.mean_pressure.as_cmh2o(),
        "baseline_pressure_cmh2o" => breath.baseline_pressure.as_cmh2o(),
        "end_expiratory_alveolar_pressure_cmh2o" => {
            breath.end_expiratory_alveolar_pressure.as_cmh2o()
        }
        "leaked_ml" => breath.leaked.as_ml(),
        "rate_per_min" => breath.rate_per_min(),
        other => panic!("no value for column {other}"),
    }
}
