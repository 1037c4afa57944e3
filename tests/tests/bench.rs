//! The closed forms of the tests on the bench, against machines that are run.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

mod common;

use common::steady;
use tidewright::bench::{
    ATMOSPHERE, HoursError, RunningHours, Service, ServiceRule, ShortCycles, Squeeze,
    squeeze_needed,
};
use tidewright::prelude::*;

fn squeeze(squeezed_ml: f64, over_s: f64) -> Squeeze {
    Squeeze {
        sealed: Volume::ml(16.0),
        walls: Compliance::ml_per_cmh2o(0.002),
        squeezed: Volume::ml(squeezed_ml),
        over: Seconds::s(over_s),
    }
}

/// The same as a machine: port and outlet shut, the thumb's pace as its flow.
fn pressed(squeeze: &Squeeze, leak: f64) -> (f64, bool) {
    let mut setup = Setup::default();
    setup.circuit.compliance = squeeze.compliance();
    setup.circuit.patient_port = PatientPort::Blocked;
    setup.circuit.leak = Some(Leak::linear(Flow::ml_s(leak), Pressure::cmh2o(1.0)));
    setup.ventilator.fresh_gas_flow = Flow::ml_s(squeeze.squeezed.as_ml() / squeeze.over.as_s());
    setup.ventilator.cycling_pressure = Pressure::cmh2o(10.0);
    setup.ventilator.inspiratory_time_limit = Seconds::s(60.0);
    let machine = Machine::new(setup).unwrap();
    let piece = step(&machine, &Moment::at_rest(&machine), squeeze.over.as_s()).unwrap().piece;
    let cycled = piece.ended_by == Some(Cause::PressureReached);
    (piece.last(Signal::AirwayPressure), cycled)
}

#[test]
fn twin_a_squeeze_is_a_machine_with_everything_shut() {
    let cycling = Pressure::cmh2o(10.0);
    for (ml, s) in [(0.2, 0.3), (0.2, 2.0), (0.16, 1.0), (0.5, 0.4), (0.1, 1.0)] {
        let squeeze = squeeze(ml, s);
        let tight = squeeze.pressure(0.0).as_cmh2o();
        assert!((tight - ml / squeeze.compliance().as_ml_per_cmh2o()).abs() < 1e-12);
        let Some(smallest) = squeeze.smallest_leak(cycling) else {
            assert!(tight < 10.0 && !pressed(&squeeze, 0.0).1);
            continue;
        };
        let g = smallest.conductance_ml_s_per_cmh2o();
        // A little less and it cycles, a little more and it does not.
        assert!(pressed(&squeeze, 0.999 * g).1 && !pressed(&squeeze, 1.001 * g).1, "{ml} mL {s} s");
        let (shown, _) = pressed(&squeeze, 1.5 * g);
        assert!((shown - squeeze.pressure(1.5 * g).as_cmh2o()).abs() < 1e-9);
    }
}

#[test]
fn closed_form_boyle_within_one_percent_of_the_straight_line() {
    for sealed in [10.0, 15.0, 20.0] {
        let exact = squeeze_needed(Volume::ml(sealed), Pressure::cmh2o(10.0)).as_ml();
        // p·V is the same before and after.
        let after = (ATMOSPHERE.as_cmh2o() + 10.0) * (sealed - exact);
        assert!((after / (ATMOSPHERE.as_cmh2o() * sealed) - 1.0).abs() < 1e-12);
        assert!((exact / (10.0 * sealed / ATMOSPHERE.as_cmh2o()) - 1.0).abs() < 0.01);
    }
}

fn cycles(l_per_min: f64, leak: f64, delay_s: f64) -> ShortCycles {
    ShortCycles {
        flow: Flow::l_per_min(l_per_min),
        compliance: Compliance::ml_per_cmh2o(0.17),
        valve_resistance: Resistance::cmh2o_s_per_l(4.0),
        cycling: Pressure::cmh2o(8.5),
        expiratory_time: Seconds::s(0.25),
        valve_delay: Seconds::s(delay_s),
        leak_ml_s_cmh2o: leak,
    }
}

fn as_machine(cycles: &ShortCycles) -> Setup {
    let mut setup = Setup::default();
    setup.circuit.compliance = cycles.compliance;
    setup.circuit.valve_resistance = cycles.valve_resistance;
    setup.circuit.patient_port = PatientPort::Blocked;
    if cycles.leak_ml_s_cmh2o > 0.0 {
        let flow = Flow::ml_s(cycles.leak_ml_s_cmh2o);
        setup.circuit.leak = Some(Leak::linear(flow, Pressure::cmh2o(1.0)));
    }
    setup.ventilator.fresh_gas_flow = cycles.flow;
    setup.ventilator.cycling_pressure = cycles.cycling;
    setup.ventilator.expiratory_time = cycles.expiratory_time;
    setup.ventilator.valve_delay = cycles.valve_delay;
    setup
}

#[test]
fn twin_short_cycles_have_the_pace_of_the_machine() {
    for l_per_min in [0.4, 0.7, 1.1] {
        for leak in [0.0, 0.2, 0.6] {
            for delay_s in [0.0, 0.05, 0.4] {
                let cycles = cycles(l_per_min, leak, delay_s);
                let breath = steady(&as_machine(&cycles));
                let cycle = cycles.cycle().unwrap();
                let shown = breath.rate_per_min();
                assert!((shown / cycle.per_min() - 1.0).abs() < 1e-9, "{cycles:?}: {shown}");
                let peak = breath.peak_pressure.as_cmh2o();
                assert!((peak - cycle.peak.as_cmh2o()).abs() < 1e-9, "{cycles:?}: {peak}");
            }
        }
    }
}

#[test]
fn twin_a_leak_that_takes_all_the_flow_makes_no_cycles() {
    let leaky = cycles(0.5, 1.0, 0.0); // 8.33 mL/s of flow and 8.5 of leak
    assert_eq!(leaky.cycle(), None);
    assert_eq!(steady(&as_machine(&leaky)).ended_by, EndedBy::Time);
}

/// A split line tells the sensor less than there is: cycles are slower and go higher.
#[test]
fn twin_a_split_sensing_line_and_a_valve_that_hangs_go_higher() {
    let whole = cycles(0.8, 0.0, 0.0);
    let split = ShortCycles { cycling: Pressure::cmh2o(8.5 / 0.6), ..whole };
    let mut setup = as_machine(&whole);
    setup.circuit.sensor.share = 0.6;
    let breath = steady(&setup);
    let cycle = split.cycle().unwrap();
    assert!((breath.rate_per_min() / cycle.per_min() - 1.0).abs() < 1e-9);
    assert!((breath.peak_pressure.as_cmh2o() - 8.5 / 0.6).abs() < 1e-9);
    assert!(cycle.per_min() < whole.cycle().unwrap().per_min());
    let hangs = cycles(0.8, 0.0, 0.3).cycle().unwrap();
    assert!(hangs.per_min() < whole.cycle().unwrap().per_min());
    // Flow over compliance for the time that it hangs.
    let over = whole.flow.as_ml_s() / 0.17 * 0.3;
    assert!((hangs.peak.as_cmh2o() - 8.5 - over).abs() < 1e-9);
}

#[test]
fn hours_that_cannot_be_are_refused() {
    let wrong = |in_use, ventilating| RunningHours::new(in_use, ventilating).unwrap_err();
    assert!(matches!(wrong(10.0, 11.0), HoursError::MoreThanInUse { .. }));
    assert!(matches!(wrong(-1.0, 0.0), HoursError::OutOfRange { .. }));
    assert!(matches!(wrong(f64::NAN, 0.0), HoursError::OutOfRange { .. }));
    assert!(matches!(ServiceRule::new(900.0, 800.0), Err(HoursError::DueFirst { .. })));
    let mut hours = RunningHours::new(20.0, 4.0).unwrap();
    hours.run(Mode::Standby, Seconds::s(7200.0));
    hours.run(Mode::Ventilating, Seconds::s(f64::NAN));
    hours.run(Mode::Ventilating, Seconds::s(-3600.0));
    assert_eq!((hours.in_use_h(), hours.ventilating_h()), (22.0, 4.0));
}

#[test]
fn practice_service_is_near_at_500_and_due_by_1000_hours_of_ventilating() {
    // Common practice, no source.
    let rule = ServiceRule::default();
    let at = |hours: f64| rule.at(&RunningHours::new(3000.0, hours).unwrap());
    assert_eq!(at(499.9), Service::NotYet);
    assert_eq!([at(500.0), at(999.9)], [Service::Near; 2]);
    assert_eq!([at(1000.0), at(2400.0)], [Service::Due; 2]);
    // Hours in standby do not count for it.
    let mut hours = RunningHours::new(3000.0, 499.0).unwrap();
    hours.run(Mode::Standby, Seconds::s(36_000.0));
    assert_eq!(rule.at(&hours), Service::NotYet);
}

#[test]
fn practice_a_thumb_presses_a_tenth_to_two_tenths_of_a_millilitre_for_10_cmh2o() {
    // Common practice, no source: 10 to 20 mL of gas at one atmosphere.
    for (sealed, said) in [(10.0, 0.1), (20.0, 0.2)] {
        let needed = squeeze_needed(Volume::ml(sealed), Pressure::cmh2o(10.0)).as_ml();
        assert!((needed / said - 1.0).abs() < 0.05, "{needed} mL of {sealed} mL");
    }
}

#[test]
fn practice_half_a_litre_to_a_litre_a_minute_cycles_fast_and_faster_with_more() {
    // Common practice, no source: against a shut port, 0.5 to 1 L/min.
    let pace = |l| cycles(l, 0.0, 0.0).cycle().unwrap().per_min();
    let paces = [0.5, 0.6, 0.7, 0.8, 0.9, 1.0].map(pace);
    assert!(paces.is_sorted_by(|slower, faster| slower < faster), "{paces:?}");
    assert!(paces[0] > 100.0);
    // A leak makes it slower at every flow.
    let leaky = [0.5, 1.0].map(|l| cycles(l, 0.4, 0.0).cycle().unwrap().per_min());
    assert!(leaky[0] < paces[0] && leaky[1] < paces[5]);
}

#[test]
fn practice_a_half_litre_bag_with_an_open_tail_lets_a_patient_breathe() {
    // Common practice, no source. In standby a breath of its own goes in and out of the
    // bag, and the pressure hardly moves; with the tail closed it climbs.
    use tidewright::assembly::Mistake;
    let mut base = Setup::default();
    base.ventilator.mode = Mode::Standby;
    base.effort = Effort::breaths(Pressure::cmh2o(6.0), Seconds::s(1.0), Seconds::s(3.0));
    let run = |circuit: &tidewright::assembly::Assembly| {
        let start = circuit.assemble(&base).unwrap().setup;
        let protocol = Protocol { start, changes: vec![], duration: Seconds::s(90.0) };
        let (mut lowest, mut highest, mut most, mut least) = (0.0_f64, 0.0_f64, 0.0_f64, 1e9_f64);
        for stretch in Simulation::new(&protocol).unwrap().steps() {
            let piece = &stretch.unwrap().piece;
            if piece.start_s < 60.0 {
                continue;
            }
            let (low, high) = piece.range(Signal::AirwayPressure);
            (lowest, highest) = (lowest.min(low), highest.max(high));
            let (low, high) = piece.range(Signal::LungVolume);
            (least, most) = (least.min(low), most.max(high));
        }
        (lowest, highest, most - least)
    };
    let (lowest, highest, moved_ml) = run(&Mistake::BagTailClosed.meant());
    assert!(lowest > -1.5 && highest < 2.0, "{lowest} to {highest} cmH2O");
    assert!(moved_ml > 25.0, "{moved_ml} mL");
    assert!(run(&Mistake::BagTailClosed.made()).1 > 30.0);
}
