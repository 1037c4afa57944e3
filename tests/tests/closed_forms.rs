//! Against formulas worked out by hand for machines small enough to have them.
//!
//! Q fresh gas flow, C compliance, Cc circuit compliance, R airway resistance,
//! Rv resistance of the open valve, G leak conductance, Pc cycling pressure;
//! resistances in cmH2O·s/mL, so that R·C is in seconds.
#![allow(clippy::disallowed_methods, reason = "an oracle keeps apart from the engine's maths")]

mod common;

use common::{assert_time, assert_volume, first_pieces, run, steady};
use std::f64::consts::LN_2;
use tidewright::prelude::*;
use tidewright_tests::two_node::{self, TwoNode};

const Q: f64 = 21.0;
const C: f64 = 6.0;
const R: f64 = 0.02;
const RV: f64 = 0.005;
const PC: f64 = 10.0;
const TE: f64 = 1.25;
const LIMIT: f64 = 3.0;

/// The numbers above on a rigid circuit without a leak.
fn rigid() -> Setup {
    let mut setup = Setup::default();
    setup.lung = Lung::single(Compliance::ml_per_cmh2o(C), Resistance::cmh2o_s_per_l(1000.0 * R));
    setup.circuit.compliance = Compliance::ZERO;
    setup.circuit.valve_resistance = Resistance::cmh2o_s_per_l(1000.0 * RV);
    setup.ventilator.fresh_gas_flow = Flow::ml_s(Q);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(PC);
    setup.ventilator.expiratory_time = Seconds::s(TE);
    setup.ventilator.inspiratory_time_limit = Seconds::s(LIMIT);
    setup
}

fn leak(conductance: f64) -> Option<Leak> {
    Some(Leak::linear(Flow::ml_s(30.0 * conductance), Pressure::cmh2o(30.0)))
}

#[test]
fn closed_form_rigid_circuit_gives_volume_and_inspiratory_time() {
    // VT = C·(Pc − P0 − R·Q), TI = VT/Q.
    let first = run(&rigid(), 20.0).remove(0);
    let volume = C * (PC - R * Q);
    assert_volume(first.inspired_tidal_volume, volume);
    assert_time(first.inspiratory_time, volume / Q);
    assert_eq!(first.ended_by, EndedBy::Pressure);
    assert!((first.peak_pressure.as_cmh2o() - PC).abs() < 1e-12);
}

#[test]
fn closed_form_tube_and_airway_resistances_add() {
    let mut setup = rigid();
    setup.lung.tube = Tube::Linear(Resistance::cmh2o_s_per_l(30.0));
    let first = run(&setup, 20.0).remove(0);
    assert_volume(first.inspired_tidal_volume, C * (PC - (R + 0.03) * Q));
}

#[test]
fn closed_form_expiration_and_mean_pressure_of_a_rigid_circuit() {
    // Alveolar pressure falls to Pend = PEEP + Rv·Q with τ = (R + Rv)·C; the airway
    // shows PEEP + Rv·(Q + outflow of the lung).
    let mut setup = rigid();
    setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(3.0);
    let first = run(&setup, 20.0).remove(0);
    let (tau, end) = ((R + RV) * C, 3.0 + RV * Q);
    let full = PC - R * Q;
    let kept = (-TE / tau).exp();
    let left = end + (full - end) * kept;
    assert_volume(first.expired_tidal_volume, C * (full - left));
    assert!((first.end_expiratory_alveolar_pressure.as_cmh2o() - left).abs() < 1e-12);
    let outflow = (left - end) / (R + RV);
    assert!((first.baseline_pressure.as_cmh2o() - (end + RV * outflow)).abs() < 1e-12);

    let inspiratory_s = C * (full - 3.0) / Q;
    let while_in = (0.5 * (3.0 + full) + R * Q) * inspiratory_s;
    let while_out = end * TE + RV / (R + RV) * (full - end) * tau * (1.0 - kept);
    let mean = (while_in + while_out) / (inspiratory_s + TE);
    assert!((first.mean_pressure.as_cmh2o() / mean - 1.0).abs() < 1e-12);
}

#[test]
fn closed_form_baseline_is_peep_plus_valve_resistance_times_flow() {
    for (peep, flow) in [(0.0, 10.0), (5.0, 20.0), (5.0, 40.0)] {
        let mut setup = rigid();
        setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(peep);
        setup.ventilator.fresh_gas_flow = Flow::ml_s(flow);
        setup.ventilator.cycling_pressure = Pressure::cmh2o(15.0);
        setup.ventilator.expiratory_time = Seconds::s(8.0); // 53 time constants
        let breath = steady(&setup);
        let baseline = peep + RV * flow;
        assert!((breath.baseline_pressure.as_cmh2o() - baseline).abs() < 1e-12);
        assert!((breath.end_expiratory_alveolar_pressure.as_cmh2o() - baseline).abs() < 1e-12);
    }
}

#[test]
fn closed_form_linear_leak_lengthens_inspiration() {
    // C·(1 + R·G)·PA′ = Q − G·PA; the airway reads (PA + R·Q)/(1 + R·G).
    let g = 1.5;
    let mut setup = rigid();
    setup.circuit.leak = leak(g);
    setup.ventilator.inspiratory_time_limit = Seconds::s(10.0);
    let first = run(&setup, 20.0).remove(0);
    let full = PC * (1.0 + R * g) - R * Q;
    let time = -C * (1.0 + R * g) / g * (1.0 - g * full / Q).ln();
    assert_time(first.inspiratory_time, time);
    assert_volume(first.inspired_tidal_volume, C * full);

    // What leaked while breathing in is what did not arrive in the lung.
    let machine = Machine::new(setup.clone()).unwrap();
    let pieces = first_pieces(&machine, 1);
    let lost = pieces[0].integral(Signal::LeakFlow);
    assert_volume(Volume::ml(lost), Q * time - C * full);
}

#[test]
fn closed_form_leak_that_takes_all_the_flow_ends_every_breath_on_time() {
    // The pressure tends to Q/G = 8 < Pc.
    let g = 2.5;
    let mut setup = rigid();
    setup.circuit.leak = leak(g);
    let first = run(&setup, 20.0).remove(0);
    assert_eq!(first.ended_by, EndedBy::Time);
    assert_time(first.inspiratory_time, 3.0);
    let full = Q / g * (1.0 - (-3.0 * g / (C * (1.0 + R * g))).exp());
    assert_volume(first.inspired_tidal_volume, C * full);
}

#[test]
fn closed_form_time_limit_alone_gives_flow_times_limit() {
    let mut setup = rigid();
    setup.ventilator.inspiratory_time_limit = Seconds::s(0.7);
    let first = run(&setup, 20.0).remove(0);
    assert_eq!(first.ended_by, EndedBy::Time);
    assert_time(first.inspiratory_time, 0.7);
    assert_volume(first.inspired_tidal_volume, Q * 0.7);
}

#[test]
fn closed_form_valve_delay_overshoots_by_flow_over_compliance() {
    let mut setup = rigid();
    setup.ventilator.valve_delay = Seconds::s(0.05);
    let first = run(&setup, 20.0).remove(0);
    assert_time(first.inspiratory_time, C * (PC - R * Q) / Q + 0.05);
    assert!((first.peak_pressure.as_cmh2o() - (PC + Q * 0.05 / C)).abs() < 1e-12);
    assert_eq!(first.ended_by, EndedBy::Pressure);
}

#[test]
fn closed_form_stacking_is_a_geometric_series() {
    // Time-ended breaths of Q·TI on τ = 0.15 s with TE = 0.12 s: each expiration
    // keeps the fraction k = e^(−TE/τ) of what is above Rv·Q, so after n breaths
    // Q·TI·(k + k² + … + kⁿ) is there, and less of the empty start.
    let mut setup = rigid();
    setup.ventilator.inspiratory_time_limit = Seconds::s(0.3);
    setup.ventilator.expiratory_time = Seconds::s(0.12);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(1000.0);
    let kept = (-0.12 / ((R + RV) * C)).exp();
    let end = RV * Q;
    let (mut series, mut power) = (0.0, 1.0);
    for breath in run(&setup, 30.0) {
        power *= kept;
        series += power;
        let trapped = end - end * power + Q * 0.3 / C * series;
        let shown = breath.end_expiratory_alveolar_pressure.as_cmh2o();
        assert!((shown / trapped - 1.0).abs() < 1e-12, "breath {}", breath.number);
    }
    let limit = end + Q * 0.3 / C * kept / (1.0 - kept);
    let shown = steady(&setup).end_expiratory_alveolar_pressure.as_cmh2o();
    assert!((shown / limit - 1.0).abs() < 1e-12);
}

#[test]
fn closed_form_stacking_of_pressure_ended_breaths_stops_at_the_second() {
    // The lung is always filled to Pc − R·Q, so breath 2 is like all that follow.
    let mut setup = rigid();
    setup.ventilator.expiratory_time = Seconds::s(0.12);
    let end = RV * Q;
    let full = PC - R * Q;
    let trapped = end + (full - end) * (-0.12 / ((R + RV) * C)).exp();
    for breath in run(&setup, 30.0).iter().skip(1) {
        assert_time(breath.inspiratory_time, C * (full - trapped) / Q);
        assert_volume(breath.inspired_tidal_volume, C * (full - trapped));
        assert_volume(breath.expired_tidal_volume, C * (full - trapped));
    }
}

#[test]
fn closed_form_compressible_circuit_sealed_and_leaking() {
    // Both modes at once, by the formula for two eigenvalues; see two_node.rs.
    for conductance in [0.0, 0.2, 1.0] {
        let mut setup = two_node::cat();
        setup.circuit.leak = (conductance > 0.0).then(|| leak(conductance)).flatten();
        let breaths = run(&setup, 60.0);
        let exact = two_node::breaths(&setup, breaths.len());
        let mut before = 2.0;
        for (breath, exact) in breaths.iter().zip(&exact) {
            assert_eq!(breath.ended_by, EndedBy::Pressure);
            assert_time(breath.inspiratory_time, exact.inspiratory_s);
            assert_volume(breath.inspired_tidal_volume, C * (exact.full - before));
            assert_volume(breath.expired_tidal_volume, C * (exact.full - exact.empty[1]));
            assert!((breath.baseline_pressure.as_cmh2o() - exact.empty[0]).abs() < 1e-12);
            let mean = exact.pressure_integral / (exact.inspiratory_s + 1.5);
            assert!((breath.mean_pressure.as_cmh2o() / mean - 1.0).abs() < 1e-10);
            let leaked = conductance * exact.pressure_integral;
            assert!((breath.leaked.as_ml() - leaked).abs() <= 1e-10 * leaked);
            before = exact.empty[1];
        }
    }
}

#[test]
fn closed_form_blocked_port_fills_the_circuit_alone() {
    // TI = Cc·Pc/Q from rest; then the circuit empties with τ = Cc·Rv.
    let mut setup = rigid();
    setup.circuit.compliance = Compliance::ml_per_cmh2o(0.15);
    setup.circuit.patient_port = PatientPort::Blocked;
    setup.ventilator.expiratory_time = Seconds::s(0.002);
    let breaths = run(&setup, 1.0);
    assert_time(breaths[0].inspiratory_time, 0.15 * PC / Q);
    let end = RV * Q;
    let baseline = end + (PC - end) * (-0.002 / (0.15 * RV)).exp();
    for breath in &breaths[1..] {
        assert_time(breath.inspiratory_time, 0.15 * (PC - baseline) / Q);
        assert!((breath.baseline_pressure.as_cmh2o() - baseline).abs() < 1e-12);
        assert_eq!(breath.inspired_tidal_volume, Volume::ZERO);
    }
}

#[test]
fn closed_form_rigid_circuit_with_only_a_leak_stands_at_flow_over_conductance() {
    let mut setup = rigid();
    setup.circuit.patient_port = PatientPort::Blocked;
    setup.circuit.leak = leak(4.0);
    let machine = Machine::new(setup.clone()).unwrap();
    let pieces = first_pieces(&machine, 2);
    let (low, high) = pieces[0].range(Signal::AirwayPressure);
    assert!((low - Q / 4.0).abs() < 1e-14 && (high - Q / 4.0).abs() < 1e-14);
    assert_eq!(pieces[0].ended_by, Some(Cause::TimeLimit));
    assert_volume(Volume::ml(pieces[0].integral(Signal::LeakFlow)), Q * 3.0);
    // With the valve open, leak and valve share the flow.
    let shared = Q / (4.0 + 1.0 / RV);
    assert!((pieces[1].first(Signal::AirwayPressure) - shared).abs() < 1e-14);
}

#[test]
fn closed_form_open_port_holds_no_pressure_and_the_patient_empties_to_the_room() {
    let mut setup = rigid();
    setup.circuit.patient_port = PatientPort::Open;
    setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(8.0);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(12.0);
    let machine = Machine::new(setup.clone()).unwrap();
    let pieces = first_pieces(&machine, 1);
    let port = tidewright::machine::OPEN_PORT_RESISTANCE.as_cmh2o_s_per_l() / 1000.0;
    let piece = &pieces[0];
    assert!((piece.first(Signal::AirwayPressure) - Q * port).abs() < 1e-14);
    assert_eq!(piece.ended_by, Some(Cause::TimeLimit));
    let held = C * 8.0 * (-3.0 / (R * C)).exp();
    assert!((piece.last(Signal::LungVolume) - held).abs() < 1e-10 * C * 8.0);
    let to_room = piece.integral(Signal::RoomFlow);
    assert_volume(Volume::ml(to_room), Q * 3.0 + C * 8.0 - held);
}

#[test]
fn closed_form_sealed_volume_falls_by_half_in_c_ln2_over_g() {
    // The leak test: pressurised to 30 cmH2O, flow off, port shut.
    let (cc, g) = (0.4, 1.0 / 6.0);
    let mut setup = rigid();
    setup.circuit.compliance = Compliance::ml_per_cmh2o(cc);
    setup.circuit.patient_port = PatientPort::Blocked;
    setup.circuit.leak = leak(g);
    setup.ventilator.fresh_gas_flow = Flow::ZERO;
    setup.ventilator.end_expiratory_pressure = Pressure::cmh2o(30.0);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(60.0);
    setup.ventilator.inspiratory_time_limit = Seconds::s(20.0);
    let machine = Machine::new(setup.clone()).unwrap();
    let pieces = first_pieces(&machine, 1);
    let half_time = cc * LN_2 / g;
    for halvings in 1..=6 {
        let n = f64::from(halvings);
        let pressure = pieces[0].at(Signal::AirwayPressure, n * half_time).unwrap();
        assert!((pressure * n.exp2() / 30.0 - 1.0).abs() < 1e-12);
    }
    let lost = pieces[0].integral(Signal::LeakFlow);
    assert_volume(Volume::ml(lost), cc * 30.0 * (1.0 - (-20.0 * g / cc).exp()));
}

#[test]
fn closed_form_two_compartments_share_a_constant_flow() {
    // On a rigid sealed circuit the flow into compartment 1 goes from Q·R2/(R1 + R2)
    // to Q·C1/(C1 + C2) with τ = (R1 + R2)·C1·C2/(C1 + C2).
    let (c1, r1, c2, r2) = (4.0, 0.03, 2.0, 0.2);
    let mut setup = rigid();
    setup.lung.compartments = [(c1, r1), (c2, r2)]
        .map(|(c, r)| {
            Compartment::new(Compliance::ml_per_cmh2o(c), Resistance::cmh2o_s_per_l(1000.0 * r))
        })
        .to_vec();
    let tau = (r1 + r2) * c1 * c2 / (c1 + c2);
    let (early, late) = (Q * r2 / (r1 + r2), Q * c1 / (c1 + c2));
    let airway = |t: f64| {
        let decayed = (-t / tau).exp();
        let filled = late * t + (early - late) * tau * (1.0 - decayed);
        filled / c1 + r1 * (late + (early - late) * decayed)
    };
    let machine = Machine::new(setup.clone()).unwrap();
    let pieces = first_pieces(&machine, 1);
    for t in [0.0, 1e-6, 0.01, 0.3, 1.0] {
        let shown = pieces[0].at(Signal::AirwayPressure, t).unwrap();
        assert!((shown - airway(t)).abs() < 1e-12, "{shown} at {t} s");
    }
    let end = pieces[0].duration_s;
    assert!((airway(end) - PC).abs() < 1e-12);
}

#[test]
fn closed_form_standby_empties_the_lung_to_the_baseline() {
    let mut setup = two_node::cat();
    setup.ventilator.mode = Mode::Standby;
    let machine = Machine::new(setup.clone()).unwrap();
    let pieces = first_pieces(&machine, 1);
    let open = TwoNode::new(&setup, true);
    for t in [0.0, 1e-4, 0.1, 1.0, 20.0] {
        let [airway, alveolar] = open.at([2.0, 2.0], t);
        assert!((pieces[0].nearest(Signal::AirwayPressure, t) - airway).abs() < 1e-12);
        assert!((pieces[0].nearest(Signal::AlveolarPressure, t) - alveolar).abs() < 1e-12);
    }
    assert_eq!(pieces[0].ended_by, None);
}

#[test]
fn closed_form_baseline_of_an_outlet_that_rises_steeply_with_flow() {
    for (k2, l_per_min, water, check) in [
        (40.0, 37.0, 0.0, false),
        (40.0, 37.0, 0.0, true),
        (40.0, 37.0, 4.0, false),
        (200.0, 5.0, 0.0, false),
        (40.0, 2.0, 0.0, false),
    ] {
        let mut setup = Setup::default();
        setup.circuit.outlet_k2 = k2;
        setup.circuit.water_in_limb = Pressure::cmh2o(water);
        setup.circuit.backflow_check = check;
        setup.ventilator.fresh_gas_flow = Flow::l_per_min(l_per_min);
        setup.ventilator.cycling_pressure = Pressure::cmh2o(40.0);
        setup.ventilator.expiratory_time = Seconds::s(30.0);
        let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(70.0) };
        let (breaths, _) = Simulation::new(&protocol).unwrap().breaths().unwrap();
        let (q, found) = (l_per_min / 60.0, breaths[0].baseline_pressure.as_cmh2o());
        let expected = water + 5.0 * q + k2 * q * q;
        assert!((found - expected).abs() < 1e-6, "{k2} {l_per_min}: {found} {expected}");
    }
}
