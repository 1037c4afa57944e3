//! A circuit put together from parts in a file.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use tidewright::assembly;
use tidewright::setup::{SensorPlace, Valve};
use tidewright_scenario::{Rejected, Scenario, parse};

/// A file without `circuit`, with something in its place.
fn text(instead: &str, gas: &str) -> String {
    format!(
        r#"Scenario(format: 1, id: "parts", patient: (species: Ferret, weight_kg: 1.3), {instead}
        ventilator: (fresh_gas_flow_l_min: 0.7, cycling_pressure_cmh2o: 9,
            inspiratory_time_limit_s: 1.6, expiratory_time_s: 1.5), {gas} duration_s: 30)"#
    )
}

fn read(instead: &str, gas: &str) -> Scenario {
    parse("parts.ron", &text(instead, gas)).unwrap()
}

fn refused(instead: &str, gas: &str) -> Rejected {
    parse("parts.ron", &text(instead, gas)).unwrap_err()
}

#[test]
fn twin_the_ready_made_parts_are_the_circuit_that_is_not_written() {
    let (plain, parts) = (read("", ""), read("assembly: (),", ""));
    assert_eq!(format!("{:?}", plain.protocol()), format!("{:?}", parts.protocol()));
}

#[test]
fn twin_parts_in_a_file_make_what_the_library_makes_of_them() {
    let mistakes = [
        (assembly::Mistake::SensingLineOff, r#"parted: [(port: "ventilator.sensing")]"#),
        (
            assembly::Mistake::PushedOn,
            r#"parted: [(port: "t-piece.limb")],
            joined: [(a: "t-piece.limb", b: "limb.near", pushed_on: true)]"#,
        ),
        (
            assembly::Mistake::PlugForgotten,
            r#"parted: [(port: "ventilator.outlet")], joined: [(a: "plug.end", b: "ventilator.outlet")]"#,
        ),
        (
            assembly::Mistake::BagTailTwisted,
            r#"parts: [(name: "bag", part: Bag(open_percent: 10))], parted: [(port: "ventilator.outlet")],
            joined: [(a: "ventilator.outlet", b: "bag.neck")]"#,
        ),
        (assembly::Mistake::CrackedLimb, r#"parts: [(name: "limb", part: Tubing(), crack_mm: 1)]"#),
    ];
    for (mistake, written) in mistakes {
        let scenario = read(&format!("assembly: ({written}),"), "gas: (),");
        let start = scenario.protocol().start;
        let made = mistake.made().assemble(&start).unwrap();
        assert_eq!(start.circuit, made.setup.circuit, "{}", mistake.name());
        let plan = scenario.gas_plan().unwrap().unwrap();
        let apparatus = plan.exchange.apparatus;
        assert_eq!(apparatus.adapter_ml, made.apparatus.adapter_ml);
        assert_eq!(
            (apparatus.limb_ml, apparatus.bag_ml),
            (made.apparatus.limb_ml, made.apparatus.bag_ml)
        );
        for (name, text) in [("a.ron", scenario.to_ron()), ("a.json", scenario.to_json())] {
            assert_eq!(parse(name, &text).unwrap(), scenario, "{text}");
        }
    }
}

#[test]
fn what_parts_and_something_else_both_say_is_refused_in_its_place() {
    let both = |instead: &str, gas: &str| {
        let rejected = refused(instead, gas);
        let fault = &rejected.faults()[0];
        assert_eq!(fault.code(), "assembly-alone", "{rejected}");
    };
    both("circuit: (compliance_ml_cmh2o: 0.3), assembly: (),", "");
    both("assembly: (),", "gas: (limb_ml: 80),");
    both("assembly: (),", "gas: (fresh_gas_inlet: MachineEnd),");
    both("assembly: (),", "timeline: [(at_s: 3, set: NoLeak)],");
    // Written out but the same as not written says nothing else.
    assert_eq!(
        read("circuit: (), assembly: (),", "").protocol().start.circuit.valve,
        Valve::Working
    );
}

#[test]
fn parts_that_make_no_machine_are_refused_by_their_port() {
    for (written, port) in [
        (r#"joined: [(a: "plug.end", b: "limb.far")]"#, "limb.far"),
        (r#"parted: [(port: "limb.middle")]"#, "middle"),
        (r#"start: Nothing, parts: [(name: "box", part: Ventilator())]"#, "box.patient-side"),
        (r#"start: Nothing"#, "ventilator"),
    ] {
        let rejected = refused(&format!("assembly: ({written}),"), "");
        let fault = &rejected.faults()[0];
        assert_eq!(fault.code(), "refused");
        assert!(format!("{:?}", fault.problem).contains(port), "{fault:?}");
    }
}

#[test]
fn a_fault_comes_on_top_of_the_parts() {
    let scenario = read("assembly: (),", "faults: [(at_s: 9, fault: SenseLineOff)],");
    let last = scenario.protocol().changes.last().unwrap().setup.clone();
    assert!(matches!(last.circuit.sensor.place, SensorPlace::Cut(_)));
}
