//! Whatever the format accepts, the engine runs: random scenarios over the whole
//! of its ranges, corners included.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use proptest::prelude::*;
use tidewright::run::Simulation;
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

fn gas_change() -> impl Strategy<Value = String> {
    prop_oneof![
        number(0.0, 100.0).prop_map(|x| format!("FreshGasOxygen(percent: {x})")),
        number(0.0, 400.0).prop_map(|x| format!("CardiacOutput(percent: {x})")),
        number(20.0, 45.0).prop_map(|x| format!("Temperature(c: {x})")),
        number(0.0, 1.0).prop_map(|x| format!("Effort(Drive(depth: {x}))")),
    ]
}

fn gas() -> impl Strategy<Value = String> {
    let system = (
        (number(0.0, 100.0), prop_oneof![Just("NearPatient"), Just("MachineEnd")]),
        (number(0.0, 1000.0), number(0.1, 20_000.0), 1..=200u32),
        prop_oneof![
            Just("OpenTube".to_owned()),
            number(1.0, 50_000.0).prop_map(|ml| format!("OpenBag(ml: {ml})"))
        ],
    );
    let patient = (
        (number(5.0, 150.0), number(0.0, 400.0), number(20.0, 45.0)),
        (number(0.0, 95.0), number(0.0, 95.0), number(0.0, 20_000.0)),
    );
    let instruments = (
        (number(0.0, 1000.0), number(0.0, 30.0), number(0.0, 10.0)),
        (number(0.0, 20.0), number(50.0, 500.0), number(0.1, 100.0), number(0.0, 350.0)),
    );
    (system, patient, instruments).prop_map(
        |(((oxygen, inlet), (adapter, limb, parcels), reservoir), (body, lung), (line, supply))| {
            let ((co2, output, celsius), (shunt, unmet, dead)) = (body, lung);
            let ((draw, delay, rise), (dial, vapour, litres, bar)) = (line, supply);
            format!(
                "gas: (oxygen_percent: {oxygen}, fresh_gas_inlet: {inlet}, adapter_ml: {adapter},
                    limb_ml: {limb}, limb_parcels: {parcels}, reservoir: {reservoir},
                    arterial_co2_mmhg: {co2}, cardiac_output_percent: {output},
                    temperature_c: {celsius}, shunt_percent: {shunt},
                    alveolar_dead_space_percent: {unmet}, airway_dead_space_ml: {dead},
                    capnograph: (sample_ml_min: {draw}, delay_s: {delay}, rise_time_s: {rise}),
                    vaporiser: (dial_percent: {dial}, vapour_ml_per_ml: {vapour}),
                    cylinder: (inner_volume_l: {litres}, gauge_bar: {bar})),"
            )
        },
    )
}

/// A random scenario with gas exchange, and a patient that may breathe by itself.
fn scenario_with_gas() -> impl Strategy<Value = String> {
    let condition = (
        prop_oneof![Just("Ideal"), Just("Overweight"), Just("Obese")],
        prop_oneof![Just("Sternal"), Just("Lateral"), Just("Dorsal")],
        prop_oneof![Just("Awake"), Just("Anaesthetised")],
    );
    (scenario(), gas(), gas_change(), condition, prop::option::of(number(0.0, 1.0))).prop_map(
        |(plain, gas, change, (body, posture, state), depth)| {
            let effort = depth.map_or(String::new(), |x| format!("effort: Drive(depth: {x}),"));
            let patient = format!(
                "weight_kg: 4, {effort} body_condition: {body}, posture: {posture}, state: {state},"
            );
            plain
                .replace("weight_kg: 4,", &patient)
                .replace("timeline: [", &format!("{gas} timeline: [(at_s: 0, set: {change}),"))
        },
    )
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
        runs(&text)?;
    }

    #[test]
    fn every_accepted_scenario_with_gas_runs_and_reports_finite_numbers(text in scenario_with_gas()) {
        runs(&text)?;
    }
}

fn runs(text: &str) -> Result<(), TestCaseError> {
    // The one thing that a random scenario may be refused for.
    let scenario = match parse("random.ron", text) {
        Ok(scenario) => scenario,
        Err(rejected) => {
            let codes: Vec<_> = rejected.faults().iter().map(|fault| fault.code()).collect();
            prop_assert!(codes.iter().all(|&code| code == "no-pressure"), "{:?}\n{}", codes, text);
            return Ok(());
        }
    };
    let mut finite = true;
    let all_finite = |row: serde_json::Value, but: &[&str]| {
        let row = row.as_object().unwrap();
        !row.iter().any(|(key, value)| value.is_null() && !but.contains(&key.as_str()))
    };
    let simulation = Simulation::new(&scenario.protocol()).unwrap();
    let ending = report::watch(&scenario, &simulation, |progress| {
        finite &= progress.stretch.piece.duration_s.is_finite();
        if let Some(breath) = progress.breath {
            let row = serde_json::to_value(report::BreathRow::of(breath)).unwrap();
            finite &= all_finite(row, &[]);
        }
        for breath in progress.gas.iter().flat_map(|gas| &gas.breaths) {
            let row = serde_json::to_value(report::OwnBreathRow::of(breath)).unwrap();
            finite &= all_finite(row, &["dead_space_fraction", "inspired_oxygen_percent"]);
        }
        for point in progress.gas.iter().flat_map(|gas| &gas.points) {
            finite &= point.carbon_dioxide_mmhg.is_finite()
                && point.shown_carbon_dioxide_mmhg.is_finite()
                && point.alveolar_carbon_dioxide_mmhg.is_finite()
                && (0.0..=1.0).contains(&point.saturation);
        }
        Ok(())
    });
    prop_assert!(ending.is_ok(), "{}\n{}", ending.unwrap_err(), text);
    prop_assert!(finite, "{}", text);
    prop_assert!(!ending.unwrap().story.contains("NaN"));
    Ok(())
}
