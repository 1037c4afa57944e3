//! Two roads, one answer: RON and JSON, reading and writing, our reader and the
//! general parsers.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use ron::extensions::Extensions;
use tidewright::quantity::Resistance;
use tidewright::setup::Tube;
use tidewright_scenario::{Scenario, parse};

/// Everything that the format has, at once.
const EVERYTHING: &str = r##"
// A comment, /* in */ two ways /* and /* nested */ */
Scenario(
    format: 1,
    id: "every-field-2",
    title: "Title with \"quotes\", \\ and \u{1F431}",
    teaches: r#"One "idea"."#,
    story: "Two
lines.",
    patient: Patient(
        name: "Grey",
        species: GuineaPig,
        weight_kg: 0.9,
        lung: Compartments(
            compartments: [
                (compliance_ml_cmh2o: 0.5, resistance_cmh2o_s_l: 5e1),
                (compliance_ml_cmh2o: .5, resistance_cmh2o_s_l: 1_000.),
            ],
            tube_resistance_cmh2o_s_l: +10,
        ),
    ),
    circuit: (
        compliance_ml_cmh2o: 0.15,
        valve_resistance_cmh2o_s_l: 5,
        leak: Some((ml_min: 300, at_cmh2o: 30, law: Linear)),
        patient_port: Open,
    ),
    ventilator: (
        mode: Standby,
        fresh_gas_flow_l_min: 0.3,
        cycling_pressure_cmh2o: 10,
        inspiratory_time_limit_s: 1,
        expiratory_time_s: 0.5,
        end_expiratory_pressure_cmh2o: 2,
        valve_delay_s: 0.01,
    ),
    duration_s: 100,
    timeline: [
        (at_s: 0, set: FreshGasFlow(l_min: 0.4)),
        (at_s: 10, set: CyclingPressure(cmh2o: 12)),
        (at_s: 10, set: InspiratoryTimeLimit(s: 2)),
        (at_s: 20, set: ExpiratoryTime(s: 1)),
        (at_s: 30, set: EndExpiratoryPressure(cmh2o: 3)),
        (at_s: 31, set: ValveDelay(s: 0)),
        (at_s: 32, set: Mode(Ventilating)),
        (at_s: 33, set: PatientPort(Connected)),
        (at_s: 40, set: Leak(ml_min: 900, at_cmh2o: 30)),
        (at_s: 50, set: NoLeak),
        (at_s: 60, set: Lung(Compartments([
            (compliance_ml_cmh2o: 0.3, resistance_cmh2o_s_l: 50),
            (compliance_ml_cmh2o: 0.3, resistance_cmh2o_s_l: 50),
        ]))),
        (at_s: 70, set: ValveResistance(cmh2o_s_l: 50)),
    ],
)
"##;

fn accepted(name: &str, text: &str) -> Scenario {
    parse(name, text).unwrap_or_else(|rejected| {
        let fault = &rejected.faults()[0];
        panic!("{rejected}: line {}: {fault}\n{text}", rejected.place(fault).line)
    })
}

#[test]
fn twin_ron_written_back_reads_as_the_same_scenario() {
    let scenario = accepted("all.ron", EVERYTHING);
    let written = scenario.to_ron();
    assert_eq!(accepted("written.ron", &written), scenario);
    insta::assert_snapshot!("everything_as_ron", written);
}

#[test]
fn twin_json_written_back_reads_as_the_same_scenario() {
    let scenario = accepted("all.ron", EVERYTHING);
    let written = scenario.to_json();
    assert_eq!(accepted("written.json", &written), scenario);
    assert_eq!(accepted("-", &written), scenario, "JSON is known by its first character");
    insta::assert_snapshot!("everything_as_json", written);
}

#[test]
fn twin_ron_files_are_valid_for_the_ron_crate() {
    let options = ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME);
    options.from_str::<ron::Value>(EVERYTHING).unwrap();
    let written = accepted("all.ron", EVERYTHING).to_ron();
    options.from_str::<ron::Value>(&written).unwrap();
}

#[test]
fn a_byte_order_mark_is_no_fault() {
    let plain = accepted("all.ron", EVERYTHING);
    assert_eq!(accepted("all.ron", &format!("\u{FEFF}{EVERYTHING}")), plain);
}

#[test]
fn compartments_may_be_written_in_three_ways() {
    let with = |lung: &str| {
        accepted(
            "lung.ron",
            &format!(
                "(format: 1, id: \"x\", patient: (species: Cat, weight_kg: 4, lung: {lung}), \
                 ventilator: (fresh_gas_flow_l_min: 1, cycling_pressure_cmh2o: 10, \
                 inspiratory_time_limit_s: 3, expiratory_time_s: 1), duration_s: 9)"
            ),
        )
    };
    let parts = "[(compliance_ml_cmh2o: 4, resistance_cmh2o_s_l: 30), \
                  (compliance_ml_cmh2o: 2, resistance_cmh2o_s_l: 60)]";
    let named =
        with(&format!("Compartments(compartments: {parts}, tube_resistance_cmh2o_s_l: 10)"));
    let led = with(&format!("Compartments({parts}, tube_resistance_cmh2o_s_l: 10)"));
    assert_eq!(led, named);
    let lung = named.protocol().start.lung;
    assert_eq!(lung.compartments.len(), 2);
    assert_eq!(lung.tube, Tube::Linear(Resistance::cmh2o_s_per_l(10.0)));
    let alone = with(&format!("Compartments({parts})")).protocol().start.lung;
    assert_eq!(alone.tube, Tube::None);
}

#[test]
fn absent_fields_take_the_defaults_of_the_reference() {
    let short = accepted(
        "short.ron",
        "(format: 1, id: \"x\", patient: (species: Cat, weight_kg: 4, \
         lung: (compliance_ml_cmh2o: 6, resistance_cmh2o_s_l: 20)), \
         ventilator: (fresh_gas_flow_l_min: 1.2, cycling_pressure_cmh2o: 10, \
         inspiratory_time_limit_s: 3, expiratory_time_s: 1.2), duration_s: 9)",
    );
    let protocol = short.protocol();
    assert_eq!(protocol.start, tidewright::setup::Setup::default());
    assert!(protocol.changes.is_empty());
}

#[test]
fn changes_at_one_time_are_one_change_and_changes_at_the_start_belong_to_it() {
    let protocol = accepted("all.ron", EVERYTHING).protocol();
    assert_eq!(protocol.start.ventilator.fresh_gas_flow.as_l_per_min(), 0.4);
    let times: Vec<f64> = protocol.changes.iter().map(|change| change.at.as_s()).collect();
    assert_eq!(times, [10.0, 20.0, 30.0, 31.0, 32.0, 33.0, 40.0, 50.0, 60.0, 70.0]);
    let first = &protocol.changes[0].setup.ventilator;
    assert_eq!(first.cycling_pressure.as_cmh2o(), 12.0);
    assert_eq!(first.inspiratory_time_limit.as_s(), 2.0);
    let last = &protocol.changes[9].setup;
    assert_eq!(last.circuit.leak, None);
    assert_eq!(last.lung.tube, Tube::None);
    assert_eq!(last.circuit.valve_resistance.as_cmh2o_s_per_l(), 50.0);
}
