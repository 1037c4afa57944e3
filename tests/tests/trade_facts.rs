//! What people who run these machines know, simulated rather than calculated.
//!
//! Every fact here is common practice, no source. 'About' is taken as within 5 %
//! unless a test says otherwise.

mod common;

use common::{run, steady};
use tidewright::prelude::*;

/// A small patient whose airway takes little: 20 mL at a rise of 10 cmH2O.
fn patient() -> Setup {
    let mut setup = Setup::default();
    setup.lung = Lung::single(Compliance::ml_per_cmh2o(2.0), Resistance::cmh2o_s_per_l(5.0));
    setup.circuit.compliance = Compliance::ZERO;
    setup.circuit.valve_resistance = Resistance::cmh2o_s_per_l(2.0);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(10.0);
    setup.ventilator.inspiratory_time_limit = Seconds::s(3.0);
    setup.ventilator.expiratory_time = Seconds::s(1.2);
    setup
}

/// Cycling pressure that gives 20 mL at any flow: elastic and resistive part.
fn for_twenty_ml(mut setup: Setup, l_per_min: f64) -> Setup {
    let flow = Flow::l_per_min(l_per_min);
    let airway = setup.lung.compartments[0].resistance + setup.circuit.valve_resistance;
    setup.ventilator.fresh_gas_flow = flow;
    setup.ventilator.cycling_pressure = Pressure::cmh2o(10.0) + airway * flow;
    setup
}

#[track_caller]
fn assert_about(shown: f64, said: f64) {
    assert!((shown / said - 1.0).abs() < 0.05, "{shown} is not about {said}");
}

#[test]
fn practice_flow_is_tidal_volume_times_60_over_inspiratory_time() {
    // 20 mL in 1 s needs 1.2 L/min.
    let breath = steady(&for_twenty_ml(patient(), 1.2));
    assert_eq!(breath.ended_by, EndedBy::Pressure);
    assert_about(breath.inspired_tidal_volume.as_ml(), 20.0);
    assert_about(breath.inspiratory_time.as_s(), 1.0);

    // And the other way round: a limit of 1 s at 1.2 L/min gives 20 mL.
    let mut timed = for_twenty_ml(patient(), 1.2);
    timed.ventilator.cycling_pressure = Pressure::cmh2o(40.0);
    timed.ventilator.inspiratory_time_limit = Seconds::s(1.0);
    let breath = steady(&timed);
    assert_eq!(breath.ended_by, EndedBy::Time);
    assert_about(breath.inspired_tidal_volume.as_ml(), 20.0);

    // In general, for flows that suit a rat up to ones that suit a dog.
    for l_per_min in [0.3, 0.6, 2.0, 5.0] {
        let breath = steady(&for_twenty_ml(patient(), l_per_min));
        let needed = breath.inspired_tidal_volume.as_ml() * 60.0 / breath.inspiratory_time.as_s();
        assert_about(needed / 1000.0, l_per_min);
    }
}

#[test]
fn practice_more_flow_shortens_inspiration() {
    // The same 20 mL: 1.0 s at 1.2 L/min, 0.6 s at about 2 L/min.
    let slow = steady(&for_twenty_ml(patient(), 1.2));
    let fast = steady(&for_twenty_ml(patient(), 2.0));
    assert_about(slow.inspiratory_time.as_s(), 1.0);
    assert_about(fast.inspiratory_time.as_s(), 0.6);

    // With the pressure left alone it is shorter still, as the airway takes its share.
    let mut untouched = for_twenty_ml(patient(), 1.2);
    untouched.ventilator.fresh_gas_flow = Flow::l_per_min(2.0);
    assert!(steady(&untouched).inspiratory_time < fast.inspiratory_time);
}

#[test]
fn practice_rate_is_set_through_expiratory_time() {
    // At 1.0 s of inspiration: 1.22 s out is 27 a minute, 1.73 s out is 22.
    for (expiratory_s, per_min) in [(1.22, 27.0), (1.73, 22.0)] {
        let mut setup = for_twenty_ml(patient(), 1.2);
        setup.ventilator.expiratory_time = Seconds::s(expiratory_s);
        let breath = steady(&setup);
        assert_about(breath.inspiratory_time.as_s(), 1.0);
        assert_about(breath.rate_per_min(), per_min);

        // Counted over a minute of breathing, the same.
        let started = run(&setup, 120.0);
        let counted = started.iter().filter(|breath| breath.start.as_s() >= 60.0).count();
        assert!((counted as f64 - per_min).abs() <= 1.0, "{counted} breaths");
    }
}

#[test]
fn practice_a_thumb_squeezes_a_tenth_of_a_millilitre_into_the_sealed_volume() {
    // With the port sealed by a thumb, 0.1 to 0.2 mL more gas raises 10 cmH2O.
    // Boyle: ΔV = V·ΔP/P with an atmosphere of 1033 cmH2O, so V is 10 to 20 mL.
    for (sealed_ml, squeezed_ml) in [(10.0, 0.1), (20.0, 0.2)] {
        let mut setup = patient();
        setup.circuit.compliance = Compliance::ml_per_cmh2o(sealed_ml / 1033.0);
        setup.circuit.patient_port = PatientPort::Blocked;
        setup.ventilator.fresh_gas_flow = Flow::ml_s(0.1); // a slow squeeze
        setup.ventilator.inspiratory_time_limit = Seconds::s(10.0);
        let machine = Machine::new(setup).unwrap();
        let piece = step(&machine, &Moment::at_rest(&machine), 60.0).unwrap().piece;
        assert_eq!(piece.ended_by, Some(Cause::PressureReached));
        assert!((piece.last(Signal::AirwayPressure) - 10.0).abs() < 1e-12);
        assert_about(0.1 * piece.duration_s, squeezed_ml);
        assert_about(piece.last(Signal::CircuitVolume), squeezed_ml);
    }
}

#[test]
fn practice_a_port_held_shut_cycles_fast_and_faster_with_more_flow() {
    // 0.5 to 1 L/min against a shut port: rapid short cycles. The little volume
    // fills in a moment, so the rate is little else than the expiratory time.
    let cycles = |l_per_min: f64| {
        let mut setup = Setup::default();
        setup.circuit.patient_port = PatientPort::Blocked;
        setup.ventilator.fresh_gas_flow = Flow::l_per_min(l_per_min);
        setup.ventilator.expiratory_time = Seconds::s(0.2);
        let breath = steady(&setup);
        assert_eq!(breath.ended_by, EndedBy::Pressure);
        assert!(breath.inspired_tidal_volume.as_ml().abs() < 1e-12);
        breath.rate_per_min()
    };
    let rates = [0.5, 0.6, 0.8, 1.0].map(cycles);
    assert!(rates.is_sorted_by(|slower, faster| slower < faster), "{rates:?}");
    assert!(rates[0] > 100.0, "{} cycles a minute is not rapid", rates[0]);
    // The same ventilator with its patient connected breathes at a patient's rate.
    assert!(steady(&Setup::default()).rate_per_min() < 30.0);
}

#[test]
fn practice_more_cycling_pressure_gives_more_volume() {
    for compliance in [0.3, 2.0, 20.0] {
        let volume = |pressure: f64| {
            let mut setup = patient();
            setup.lung.compartments[0].compliance = Compliance::ml_per_cmh2o(compliance);
            setup.ventilator.fresh_gas_flow = Flow::ml_s(10.0 * compliance);
            setup.ventilator.cycling_pressure = Pressure::cmh2o(pressure);
            let breath = steady(&setup);
            assert_eq!(breath.ended_by, EndedBy::Pressure);
            breath.inspired_tidal_volume.as_ml()
        };
        let volumes = [6.0, 8.0, 10.0, 15.0, 20.0].map(volume);
        assert!(volumes.is_sorted_by(|less, more| less < more), "{volumes:?}");
    }
}
