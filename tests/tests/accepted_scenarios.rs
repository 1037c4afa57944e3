//! Whatever the format accepts, the engine runs: random scenarios over the whole
//! of its ranges, corners included.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use proptest::prelude::*;
use tidewright_scenario::{parse, report};

/// A number over a range of many orders of magnitude, or one of its corners.
fn number(min: f64, max: f64) -> impl Strategy<Value = f64> {
    let floor = min.max(max * 1e-6);
    prop_oneof![
        1 => Just(min),
        1 => Just(max),
        6 => (0.0..1.0f64).prop_map(move |x| floor * tidewright::math::pow(max / floor, x)),
    ]
}

fn leak() -> impl Strategy<Value = String> {
    (number(0.0, 1e6), number(0.1, 200.0), prop_oneof![Just("Linear"), Just("Orifice")])
        .prop_map(|(flow, at, law)| format!("(ml_min: {flow}, at_cmh2o: {at}, law: {law})"))
}

fn compartment() -> impl Strategy<Value = String> {
    (number(0.001, 1e4), number(0.01, 1e5))
        .prop_map(|(c, r)| format!("(compliance_ml_cmh2o: {c}, resistance_cmh2o_s_l: {r})"))
}

fn lung(parts: usize) -> impl Strategy<Value = String> {
    (prop::collection::vec(compartment(), parts), number(0.0, 1e5)).prop_map(|(parts, tube)| {
        format!("Compartments([{}], tube_resistance_cmh2o_s_l: {tube})", parts.join(", "))
    })
}

fn port() -> impl Strategy<Value = &'static str> {
    prop_oneof![4 => Just("Connected"), 1 => Just("Blocked"), 1 => Just("Open")]
}

fn change(parts: usize) -> impl Strategy<Value = String> {
    prop_oneof![
        number(0.0, 100.0).prop_map(|x| format!("FreshGasFlow(l_min: {x})")),
        number(31.0, 100.0).prop_map(|x| format!("CyclingPressure(cmh2o: {x})")),
        number(0.02, 60.0).prop_map(|x| format!("InspiratoryTimeLimit(s: {x})")),
        number(0.02, 600.0).prop_map(|x| format!("ExpiratoryTime(s: {x})")),
        number(0.0, 30.0).prop_map(|x| format!("EndExpiratoryPressure(cmh2o: {x})")),
        number(0.0, 5.0).prop_map(|x| format!("ValveDelay(s: {x})")),
        prop_oneof![Just("Mode(Standby)"), Just("Mode(Ventilating)"), Just("NoLeak")]
            .prop_map(str::to_owned),
        leak().prop_map(|leak| format!("Leak{leak}")),
        lung(parts).prop_map(|lung| format!("Lung({lung})")),
        number(0.01, 1e5).prop_map(|x| format!("ValveResistance(cmh2o_s_l: {x})")),
        port().prop_map(|port| format!("PatientPort({port})")),
    ]
}

fn scenario() -> impl Strategy<Value = String> {
    (1..=3usize).prop_flat_map(|parts| {
        let circuit = (number(0.0, 100.0), number(0.01, 1e5), prop::option::of(leak()), port());
        let controls = (
            (number(0.0, 100.0), number(31.0, 100.0), number(0.02, 60.0)),
            (number(0.02, 600.0), number(0.0, 30.0), number(0.0, 5.0)),
        );
        let timeline = prop::collection::vec(change(parts), 0..5);
        (lung(parts), circuit, controls, timeline, number(0.1, 20.0)).prop_map(
            |(lung, (compliance, valve, leak, port), (first, second), timeline, duration)| {
                let ((flow, cycling, limit), (expiration, peep, delay)) = (first, second);
                let leak = leak.map_or(String::new(), |leak| format!("leak: {leak},"));
                let step = duration / (timeline.len() + 1) as f64;
                let entries: String = timeline
                    .iter()
                    .enumerate()
                    .map(|(i, set)| format!("(at_s: {}, set: {set}),", step * i as f64))
                    .collect();
                format!(
                    "(format: 1, id: \"random\",
                    patient: (species: Other, weight_kg: 4, lung: {lung}),
                    circuit: (compliance_ml_cmh2o: {compliance}, {leak} patient_port: {port},
                        valve_resistance_cmh2o_s_l: {valve}),
                    ventilator: (fresh_gas_flow_l_min: {flow}, cycling_pressure_cmh2o: {cycling},
                        inspiratory_time_limit_s: {limit}, expiratory_time_s: {expiration},
                        end_expiratory_pressure_cmh2o: {peep}, valve_delay_s: {delay}),
                    duration_s: {duration}, timeline: [{entries}])"
                )
            },
        )
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_accepted_scenario_runs_and_reports_finite_numbers(text in scenario()) {
        // The one thing that a random scenario may be refused for.
        let scenario = match parse("random.ron", &text) {
            Ok(scenario) => scenario,
            Err(rejected) => {
                let codes: Vec<_> = rejected.faults().iter().map(|fault| fault.code()).collect();
                prop_assert!(codes.iter().all(|&code| code == "no-pressure"), "{:?}\n{}", codes, text);
                return Ok(());
            }
        };
        let mut finite = true;
        let ending = report::run(&scenario, |stretch, breath| {
            finite &= stretch.piece.duration_s.is_finite();
            if let Some(breath) = breath {
                let row = report::BreathRow::of(breath);
                let numbers = serde_json::to_value(row).unwrap();
                finite &= !numbers.as_object().unwrap().values().any(serde_json::Value::is_null);
            }
            Ok(())
        });
        prop_assert!(ending.is_ok(), "{}\n{}", ending.unwrap_err(), text);
        prop_assert!(finite, "{}", text);
        prop_assert!(!ending.unwrap().story.contains("NaN"));
    }
}
