//! Two roads, one answer: RON and JSON, reading and writing, our reader and the
//! general parsers.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use ron::extensions::Extensions;
use tidewright::quantity::{Flow, Pressure, Resistance, Seconds};
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
        body_condition: Obese,
        posture: Dorsal,
        state: Awake,
        lung: Compartments(
            compartments: [
                (compliance_ml_cmh2o: 0.5, resistance_cmh2o_s_l: 5e1,
                 expiratory_resistance_cmh2o_s_l: 80,
                 law: Sigmoid(lower_ml: -2, span_ml: 20, middle_cmh2o: 8, width_cmh2o: 5)),
                (compliance_ml_cmh2o: .5, resistance_cmh2o_s_l: 1_000., shut: true,
                 law: Table([(cmh2o: 0, ml: 0), (cmh2o: 10, ml: 5)]),
                 air_leak: (resistance_cmh2o_s_l: 900, to: PleuraOneWay)),
            ],
        ),
        tube: Quadratic(k1_cmh2o_s_l: +10, k2_cmh2o_s2_l2: 40),
        cuff: (seals_to_cmh2o: 20, leak_ml_min: 200),
        chest_wall: (compliance_ml_cmh2o: 2, pressed_by_cmh2o: 1, wound_cmh2o_s_l: None),
        viscoelastic: (compliance_ml_cmh2o: 3, resistance_cmh2o_s_l: 200),
        effort: Breaths(amplitude_cmh2o: 3, duration_s: 0.5, rate_per_min: 20, delay_s: 0.2),
    ),
    circuit: (
        compliance_ml_cmh2o: 0.15,
        valve_resistance_cmh2o_s_l: 5,
        leak: Some((ml_min: 300, at_cmh2o: 30, law: Linear)),
        patient_port: Open,
        valve: Working,
        backflow_check: true,
        limb: (compliance_ml_cmh2o: 0.1, resistance_cmh2o_s_l: 4),
        water_in_limb_cmh2o: 0.5,
        relief: (opens_at_cmh2o: 40),
        sensor: (place: ValveEnd, offset_cmh2o: -0.5),
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
    gas: Gas(
        oxygen_percent: 40,
        fresh_gas_inlet: MachineEnd,
        adapter_ml: 1,
        limb_ml: 80,
        limb_parcels: 7,
        limb_mixing: PlugFlow,
        reservoir: OpenBag(ml: 500),
        arterial_co2_mmhg: 41,
        cardiac_output_percent: 80,
        temperature_c: 36.5,
        shunt_percent: 5,
        alveolar_dead_space_percent: 12,
        airway_dead_space_ml: 2.5,
        capnograph: (sample_ml_min: 100, delay_s: 2, rise_time_s: 0.3),
        vaporiser: (dial_percent: 2, vapour_ml_per_ml: 195),
        cylinder: (inner_volume_l: 5, gauge_bar: 100),
        limits: (lowest_end_tidal_co2_mmhg: 30, highest_end_tidal_co2_mmhg: 50, lowest_spo2_percent: 94),
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
        (at_s: 71, set: Tube(Sized(internal_diameter_mm: 2.5, length_cm: 12))),
        (at_s: 72, set: Tube(OneWay(inward_cmh2o_s_l: 20))),
        (at_s: 73, set: Tube(Shut)),
        (at_s: 74, set: Tube(Linear(cmh2o_s_l: 0))),
        (at_s: 75, set: Cuff(seals_to_cmh2o: 8, leak_ml_min: 900)),
        (at_s: 76, set: CuffSeals),
        (at_s: 77, set: ChestWall(compliance_ml_cmh2o: 2, pressed_by_cmh2o: 5)),
        (at_s: 78, set: Effort(Coughs(strength_cmh2o: 20, rate_per_min: 6))),
        (at_s: 79, set: Effort(Bracing(strength_cmh2o: 4))),
        (at_s: 80, set: NoEffort),
        (at_s: 81, set: Valve(StuckShut)),
        (at_s: 82, set: Valve(StuckOpen)),
        (at_s: 83, set: Limb(compliance_ml_cmh2o: 0.1, resistance_cmh2o_s_l: 90, disconnected: true)),
        (at_s: 84, set: WaterInLimb(cmh2o: 0)),
        (at_s: 85, set: Relief(opens_at_cmh2o: 30, resistance_cmh2o_s_l: 2)),
        (at_s: 86, set: Sensor(place: Cut(stays_at_cmh2o: 0))),
        (at_s: 87, set: FreshGasOxygen(percent: 21)),
        (at_s: 88, set: CardiacOutput(percent: 0)),
        (at_s: 89, set: Temperature(c: 35)),
        (at_s: 90, set: Effort(Drive(depth: 0.6))),
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
        "(format: 1, id: \"x\", patient: (species: Cat, weight_kg: 4.5, \
         lung: (compliance_ml_cmh2o: 6, resistance_cmh2o_s_l: 20)), \
         ventilator: (fresh_gas_flow_l_min: 2.2, cycling_pressure_cmh2o: 8, \
         inspiratory_time_limit_s: 1.8, expiratory_time_s: 2.6), duration_s: 9)",
    );
    let protocol = short.protocol();
    let mut plain = tidewright::setup::Setup::default();
    plain.ventilator.fresh_gas_flow = Flow::l_per_min(2.2);
    plain.ventilator.cycling_pressure = Pressure::cmh2o(8.0);
    plain.ventilator.inspiratory_time_limit = Seconds::s(1.8);
    plain.ventilator.expiratory_time = Seconds::s(2.6);
    assert_eq!(protocol.start, plain);
    assert!(protocol.changes.is_empty());
}

#[test]
fn changes_at_one_time_are_one_change_and_changes_at_the_start_belong_to_it() {
    let protocol = accepted("all.ron", EVERYTHING).protocol();
    assert_eq!(protocol.start.ventilator.fresh_gas_flow.as_l_per_min(), 0.4);
    let times: Vec<f64> = protocol.changes.iter().map(|change| change.at.as_s()).collect();
    assert_eq!(times[..10], [10.0, 20.0, 30.0, 31.0, 32.0, 33.0, 40.0, 50.0, 60.0, 70.0]);
    let first = &protocol.changes[0].setup.ventilator;
    assert_eq!(first.cycling_pressure.as_cmh2o(), 12.0);
    assert_eq!(first.inspiratory_time_limit.as_s(), 2.0);
    let last = &protocol.changes[9].setup;
    assert_eq!(last.circuit.leak, None);
    let k = (10.0, 40.0);
    assert_eq!(last.lung.tube, Tube::Quadratic { k1: k.0, k2: k.1 }, "the tube stays");
    assert_eq!(last.circuit.valve_resistance.as_cmh2o_s_per_l(), 50.0);
}

#[test]
fn every_element_of_the_file_reaches_the_engine() {
    use tidewright::prelude::*;
    let protocol = accepted("all.ron", EVERYTHING).protocol();
    let start = &protocol.start;
    let [first, second] = start.lung.compartments.as_slice() else { panic!() };
    let resistance = Resistance::cmh2o_s_per_l;
    assert_eq!(first.expiratory_resistance, Some(resistance(80.0)));
    assert_eq!(
        first.law,
        PressureVolume::Sigmoid {
            lower: Volume::ml(-2.0),
            span: Volume::ml(20.0),
            middle: Pressure::cmh2o(8.0),
            width: Pressure::cmh2o(5.0),
        }
    );
    assert!(second.shut && !first.shut);
    assert_eq!(second.air_leak.map(|hole| hole.to), Some(LeaksTo::PleuraOneWay));
    // 200 mL/min at 10 cmH2O above the seal.
    assert_eq!(start.lung.cuff.unwrap().conductance_ml_s_cmh2o, 200.0 / 60.0 / 10.0);
    assert_eq!(start.lung.chest_wall.unwrap().pressed_by, Pressure::cmh2o(1.0));
    assert_eq!(start.lung.viscoelastic.unwrap().resistance, resistance(200.0));
    // Rest of 0.2 s, then half a sine of 0.5 s, every 3 s.
    assert_eq!(start.effort.at(Seconds::s(0.1)), Pressure::ZERO);
    for s in [0.45, 3.45] {
        assert!((start.effort.at(Seconds::s(s)).as_cmh2o() - 3.0).abs() < 1e-12);
    }
    let circuit = &start.circuit;
    assert!(circuit.backflow_check);
    assert_eq!(circuit.limb.unwrap().resistance, resistance(4.0));
    assert_eq!(circuit.water_in_limb, Pressure::cmh2o(0.5));
    assert_eq!(circuit.relief.unwrap().opens_at, Pressure::cmh2o(40.0));
    assert_eq!(circuit.sensor.place, SensorPlace::ValveEnd);
    let at = |s: f64| {
        let now = protocol.changes.iter().rev().find(|change| change.at <= Seconds::s(s));
        &now.unwrap().setup
    };
    let Tube::Sized(tube) = at(71.0).lung.tube else { panic!() };
    // Poiseuille with 2.1e-5 Pa·s for warm oxygen (from memory).
    let square = 0.0025 * 0.0025;
    let poiseuille = 128.0 * 2.1e-5 * 0.12 / (std::f64::consts::PI * square * square);
    let expected = poiseuille * 1e-3 / 98.0665;
    assert!((tube.laminar_resistance().as_cmh2o_s_per_l() / expected - 1.0).abs() < 0.05);
    assert_eq!(at(72.0).lung.tube, Tube::OneWay { inward: Some(resistance(20.0)), outward: None });
    assert_eq!(at(73.0).lung.tube, Tube::Shut);
    assert_eq!(at(74.0).lung.tube, Tube::None);
    assert_eq!(at(75.0).lung.cuff.unwrap().seals_to, Pressure::cmh2o(8.0));
    assert_eq!(at(76.0).lung.cuff, None);
    assert_eq!(at(77.0).lung.chest_wall.unwrap().pressed_by, Pressure::cmh2o(5.0));
    assert_eq!(at(78.0).effort.at(Seconds::s(0.1)), Pressure::cmh2o(-20.0));
    assert_eq!(at(79.0).effort.at(Seconds::s(9.0)), Pressure::cmh2o(-4.0));
    assert_eq!(at(80.0).effort, Effort::none());
    assert_eq!(at(81.0).circuit.valve, Valve::StuckShut);
    assert!(at(83.0).circuit.limb.unwrap().disconnected);
    assert_eq!(at(84.0).circuit.water_in_limb, Pressure::ZERO);
    assert_eq!(at(85.0).circuit.relief.unwrap().opens_at, Pressure::cmh2o(30.0));
    assert_eq!(at(86.0).circuit.sensor.place, SensorPlace::Cut(Pressure::ZERO));
}
