//! Machines without a closed form, breaths and waveforms, against scipy.
//! Source: `reference/nonlinear-breaths/source.md`.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright::prelude::*;
use tidewright_tests::reference::{Row, rows};

/// The machines whose every part the library has: its lungs are linear, its
/// leak is linear, and nobody breathes.
const MACHINES: [&str; 4] = [
    "linear-control",
    "two-unequal-lungs",
    "two-unequal-lungs-stacking",
    "two-unequal-lungs-rigid",
];

#[test]
fn twin_scipy_agrees_on_breaths_of_unequal_lungs() {
    let expected = rows("nonlinear-breaths/data.csv");
    for machine in machines() {
        let (simulation, name) = (simulation(&machine), machine.text("machine"));
        let (breaths, _) = simulation.breaths().unwrap();
        let own: Vec<_> = expected.iter().filter(|row| row.text("machine") == name).collect();
        assert!(!own.is_empty() && breaths.len() >= own.len(), "{name}");
        for (breath, row) in breaths.iter().zip(own) {
            let near = |column: &str, got: f64, tolerance: f64| {
                let want = row.number(column);
                let allowed = tolerance * want.abs().max(1e-3);
                let number = breath.number;
                assert!(
                    (got - want).abs() <= allowed,
                    "{name} {number}: {column} {got}, not {want}"
                );
            };
            assert_eq!(breath.ended_by == EndedBy::Pressure, row.text("ended_by") == "pressure");
            near("inspiratory_time_s", breath.inspiratory_time.as_s(), 1e-10);
            near("expiratory_time_s", breath.expiratory_time.as_s(), 1e-10);
            near("inspired_tidal_volume_ml", breath.inspired_tidal_volume.as_ml(), 1e-9);
            near("expired_tidal_volume_ml", breath.expired_tidal_volume.as_ml(), 1e-9);
            near("peak_pressure_cmh2o", breath.peak_pressure.as_cmh2o(), 1e-9);
            near("mean_pressure_cmh2o", breath.mean_pressure.as_cmh2o(), 1e-9);
            near("baseline_pressure_cmh2o", breath.baseline_pressure.as_cmh2o(), 1e-9);
            let alveolar = breath.end_expiratory_alveolar_pressure.as_cmh2o();
            near("end_expiratory_alveolar_pressure_cmh2o", alveolar, 1e-9);
            near("leaked_ml", breath.leaked.as_ml(), 1e-9);
        }
    }
}

#[test]
fn twin_scipy_agrees_on_waveforms_of_unequal_lungs() {
    let expected = rows("nonlinear-breaths/waveforms.csv");
    for machine in machines() {
        let (simulation, name) = (simulation(&machine), machine.text("machine"));
        let trace = simulation.trace().unwrap();
        let own: Vec<_> = expected.iter().filter(|row| row.text("machine") == name).collect();
        assert!(own.len() >= 20, "{name}");
        for row in own {
            for (signal, column) in [
                (Signal::AirwayPressure, "airway_pressure_cmh2o"),
                (Signal::AirwayFlow, "airway_flow_ml_s"),
                (Signal::LungVolume, "lung_volume_ml"),
            ] {
                let time_s = row.number("time_s");
                let got = trace.at(Seconds::s(time_s), signal).unwrap();
                let want = row.number(column);
                let allowed = 1e-8 * want.abs().max(1.0);
                assert!(
                    (got - want).abs() <= allowed,
                    "{name} at {time_s} s: {column} {got}, not {want}"
                );
            }
        }
    }
}

fn machines() -> Vec<Row> {
    let all = rows("nonlinear-breaths/machines.csv");
    let own: Vec<_> =
        all.into_iter().filter(|row| MACHINES.contains(&row.text("machine"))).collect();
    assert_eq!(own.len(), MACHINES.len());
    own
}

fn simulation(row: &Row) -> Simulation {
    let start = Setup {
        lung: Lung {
            compartments: row.text("lungs").split(' ').map(compartment).collect(),
            tube_resistance: Resistance::cmh2o_s_per_l(row.number("tube_linear_cmh2o_s_l")),
        },
        circuit: Circuit {
            compliance: Compliance::ml_per_cmh2o(row.number("circuit_compliance_ml_cmh2o")),
            valve_resistance: Resistance::cmh2o_s_per_l(row.number("valve_resistance_cmh2o_s_l")),
            leak: match row.text("leak_law") {
                "none" => None,
                "linear" => Some(Leak {
                    flow: Flow::ml_s(row.number("leak_ml_min") / 60.0),
                    at: Pressure::cmh2o(row.number("leak_at_cmh2o")),
                }),
                other => panic!("no leak law {other}"),
            },
            patient_port: PatientPort::Connected,
        },
        ventilator: Ventilator {
            mode: Mode::Ventilating,
            fresh_gas_flow: Flow::l_per_min(row.number("fresh_gas_flow_l_min")),
            cycling_pressure: Pressure::cmh2o(row.number("cycling_pressure_cmh2o")),
            inspiratory_time_limit: Seconds::s(row.number("inspiratory_time_limit_s")),
            expiratory_time: Seconds::s(row.number("expiratory_time_s")),
            end_expiratory_pressure: Pressure::cmh2o(row.number("end_expiratory_pressure_cmh2o")),
            valve_delay: Seconds::s(row.number("valve_delay_s")),
        },
    };
    let longest = start.ventilator.inspiratory_time_limit + start.ventilator.expiratory_time;
    let duration = Seconds::s(row.number("breaths") * longest.as_s());
    Simulation::new(&Protocol { start, changes: vec![], duration }).unwrap()
}

/// A compartment written `linear:compliance:resistance`.
fn compartment(text: &str) -> Compartment {
    let parts: Vec<_> = text.split(':').collect();
    assert_eq!(parts[0], "linear");
    Compartment {
        compliance: Compliance::ml_per_cmh2o(parts[1].parse().unwrap()),
        resistance: Resistance::cmh2o_s_per_l(parts[2].parse().unwrap()),
    }
}
