//! Instruments show what their equations say, and the same for the same seed.
#![allow(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a fault fails the test; an oracle may use the platform"
)]

use tidewright::instrument::{
    GaugePlace, Instruments, PressureGauge, Reading, Recorder, Spirometer, SpirometerPlace,
};
use tidewright::prelude::*;

fn simulation(setup: Setup, duration_s: f64) -> Simulation {
    let duration = Seconds::s(duration_s);
    Simulation::new(&Protocol { start: setup, changes: vec![], duration }).unwrap()
}

fn readings(simulation: &Simulation, instruments: Instruments) -> Vec<Reading> {
    let mut recorder = Recorder::new(instruments).unwrap();
    let mut all = vec![];
    for stretch in simulation.steps() {
        recorder.take(&stretch.unwrap(), |reading| all.push(reading));
    }
    all
}

/// A port that is shut: 10 mL/s of fresh gas into 10 mL/cmH2O, 1 cmH2O/s.
fn ramp() -> Setup {
    let mut setup = Setup::default();
    setup.circuit.patient_port = PatientPort::Blocked;
    setup.circuit.compliance = Compliance::ml_per_cmh2o(10.0);
    setup.ventilator.fresh_gas_flow = Flow::ml_s(10.0);
    setup.ventilator.inspiratory_time_limit = Seconds::s(100.0);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(50.0);
    setup
}

#[test]
fn closed_form_a_lagging_gauge_stays_a_time_constant_behind_a_ramp() {
    let lag = 0.3;
    let gauge = PressureGauge { lag: Seconds::s(lag), ..PressureGauge::default() };
    for rate_per_s in [7.0, 100.0] {
        let instruments = Instruments { gauge, rate_per_s, ..Instruments::default() };
        for reading in readings(&simulation(ramp(), 10.0), instruments) {
            let t = reading.at.as_s();
            let expected = t - lag * (1.0 - (-t / lag).exp());
            assert!((reading.pressure.as_cmh2o() - expected).abs() < 1e-9, "at {t} s");
        }
    }
}

#[test]
fn closed_form_a_lagging_gauge_falls_by_an_exponential_after_a_jump() {
    // The valve opens from 10 cmH2O into a circuit that holds nothing: the pressure
    // jumps, on the event, between two readings.
    let mut setup = Setup::default();
    setup.circuit.patient_port = PatientPort::Open;
    setup.circuit.compliance = Compliance::ZERO;
    setup.circuit.valve_resistance = Resistance::cmh2o_s_per_l(0.5);
    setup.ventilator.fresh_gas_flow = Flow::ml_s(22.0);
    setup.ventilator.inspiratory_time_limit = Seconds::s(1.0);
    let (shut, open) = (0.5 * 22.0 / 1000.0, 0.25 * 22.0 / 1000.0);
    let lag = 0.2;
    let gauge = PressureGauge { lag: Seconds::s(lag), ..PressureGauge::default() };
    let instruments = Instruments { gauge, rate_per_s: 3.3, ..Instruments::default() };
    let all = readings(&simulation(setup, 2.0), instruments);
    assert!(all.len() > 5);
    for reading in all {
        let t = reading.at.as_s();
        let past = (t - 1.0).max(0.0);
        let expected = open + (shut - open) * (-past / lag).exp();
        assert!((reading.pressure.as_cmh2o() - expected).abs() < 1e-12, "at {t} s");
    }
}

#[test]
fn an_ideal_instrument_shows_the_truth() {
    let simulation = simulation(Setup::default(), 20.0);
    let trace = simulation.trace().unwrap();
    for reading in readings(&simulation, Instruments::default()) {
        let truth = |signal| trace.at(reading.at, signal).unwrap();
        assert!((reading.pressure.as_cmh2o() - truth(Signal::AirwayPressure)).abs() < 1e-9);
        assert!((reading.flow.as_ml_s() - truth(Signal::AirwayFlow)).abs() < 1e-7);
    }
}

#[test]
fn an_ideal_spirometer_adds_up_the_tidal_volume_of_the_breath_table() {
    let simulation = simulation(Setup::default(), 20.0);
    let breaths = simulation.breaths().unwrap().0;
    let instruments = Instruments { rate_per_s: 1000.0, ..Instruments::default() };
    let all = readings(&simulation, instruments);
    for breath in breaths {
        let within = |reading: &&Reading| {
            reading.at >= breath.start && reading.at < breath.start + breath.inspiratory_time
        };
        let last = all.iter().rev().find(within).unwrap();
        let miss = (last.volume - breath.inspired_at_airway).as_ml();
        // The first and the last reading may miss 1 ms of 20 mL/s each.
        assert!(miss.abs() < 0.05, "{miss} mL");
    }
}

#[test]
fn a_spirometer_at_the_machine_counts_a_circuit_leak_as_breath() {
    let mut setup = Setup::default();
    setup.circuit.leak = Some(Leak::linear(Flow::ml_s(30.0), Pressure::cmh2o(30.0)));
    let simulation = simulation(setup, 20.0);
    let breath = *simulation.breaths().unwrap().0.last().unwrap();
    // What each shows at the end of that breath's inspiration.
    let shown = |at| {
        let spirometer = Spirometer { at, ..Spirometer::default() };
        let instruments = Instruments { spirometer, rate_per_s: 1000.0, ..Instruments::default() };
        let turn = breath.start + breath.inspiratory_time;
        let all = readings(&simulation, instruments);
        all.iter().rev().find(|reading| reading.at < turn).unwrap().volume.as_ml()
    };
    // 1 ms of the flow may be missed at either end.
    let flow = Setup::default().ventilator.fresh_gas_flow;
    let at_machine = (flow * breath.inspiratory_time).as_ml();
    assert!((shown(SpirometerPlace::Machine) - at_machine).abs() < 0.05);
    let at_patient = breath.inspired_at_airway.as_ml();
    assert!((shown(SpirometerPlace::Patient) - at_patient).abs() < 0.05);
    assert!(at_machine > at_patient + 0.9 * breath.leaked.as_ml());
}

#[test]
fn closed_form_noise_has_the_mean_and_the_deviation_asked_for() {
    let exact = readings(
        &simulation(ramp(), 40.0),
        Instruments { rate_per_s: 1000.0, ..Instruments::default() },
    );
    let instruments = Instruments {
        rate_per_s: 1000.0,
        seed: 7,
        gauge: PressureGauge {
            noise: Pressure::cmh2o(0.2),
            offset: Pressure::cmh2o(1.5),
            ..PressureGauge::default()
        },
        spirometer: Spirometer { noise: Flow::ml_s(3.0), ..Spirometer::default() },
    };
    let noisy = readings(&simulation(ramp(), 40.0), instruments);
    let n = noisy.len() as f64;
    assert_eq!(noisy.len(), 40_001);
    let errors = |of: fn(&Reading) -> f64| -> Vec<f64> {
        noisy.iter().zip(&exact).map(|(a, b)| of(a) - of(b)).collect()
    };
    let pressure = errors(|reading| reading.pressure.as_cmh2o());
    let flow = errors(|reading| reading.flow.as_ml_s());
    let mean = |x: &[f64]| x.iter().sum::<f64>() / n;
    let deviation = |x: &[f64]| {
        let middle = mean(x);
        (x.iter().map(|e| (e - middle) * (e - middle)).sum::<f64>() / n).sqrt()
    };
    // Five standard errors: sd/√n of the mean, sd/√(2n) of the deviation.
    assert!((mean(&pressure) - 1.5).abs() < 5.0 * 0.2 / n.sqrt());
    assert!((deviation(&pressure) - 0.2).abs() < 5.0 * 0.2 / (2.0 * n).sqrt());
    assert!(mean(&flow).abs() < 5.0 * 3.0 / n.sqrt());
    assert!((deviation(&flow) - 3.0).abs() < 5.0 * 3.0 / (2.0 * n).sqrt());
    // Neither from reading to reading nor between the two instruments is there a pattern.
    let product = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(a, b)| a * b).sum::<f64>() / n;
    let centred: Vec<f64> = pressure.iter().map(|e| e - 1.5).collect();
    assert!(product(&centred, &flow).abs() < 5.0 * 0.2 * 3.0 / n.sqrt());
    assert!(product(&centred[1..], &centred).abs() < 5.0 * 0.2 * 0.2 / n.sqrt());
}

#[test]
fn the_same_seed_gives_the_same_bits_and_another_seed_others() {
    let simulation = simulation(Setup::default(), 10.0);
    let bits = |seed| -> Vec<[u64; 3]> {
        readings(&simulation, Instruments::ordinary(seed))
            .iter()
            .map(|r| [r.pressure.as_cmh2o(), r.flow.as_ml_s(), r.volume.as_ml()].map(f64::to_bits))
            .collect()
    };
    assert_eq!(bits(3), bits(3));
    assert_ne!(bits(3), bits(4));
}

#[test]
fn the_truth_knows_nothing_of_the_instruments() {
    let simulation = simulation(Setup::default(), 10.0);
    let before = simulation.breaths().unwrap();
    readings(&simulation, Instruments::ordinary(3));
    assert_eq!(simulation.breaths().unwrap(), before);
}

#[test]
fn a_gauge_shows_whole_steps_of_its_resolution() {
    let gauge = PressureGauge { resolution: Pressure::cmh2o(0.5), ..PressureGauge::default() };
    let instruments = Instruments { gauge, ..Instruments::default() };
    for reading in readings(&simulation(ramp(), 10.0), instruments) {
        let steps = reading.pressure.as_cmh2o() / 0.5;
        assert_eq!(steps, steps.round());
        assert!((reading.pressure.as_cmh2o() - reading.at.as_s()).abs() <= 0.25 + 1e-9);
    }
}

#[test]
fn a_second_gauge_shows_what_a_cut_sense_line_hides() {
    let mut setup = Setup::default();
    setup.circuit.sensor.place = SensorPlace::Cut(Pressure::ZERO);
    let simulation = simulation(setup, 10.0);
    let highest = |at| {
        let gauge = PressureGauge { at, ..PressureGauge::default() };
        let all = readings(&simulation, Instruments { gauge, ..Instruments::default() });
        all.iter().map(|reading| reading.pressure.as_cmh2o()).fold(f64::MIN, f64::max)
    };
    assert_eq!(highest(GaugePlace::SenseLine), 0.0);
    assert!(highest(GaugePlace::PatientConnection) > 9.0);
}

#[test]
fn an_instrument_that_cannot_be_is_refused_by_name() {
    let with = |change: fn(&mut Instruments)| {
        let mut instruments = Instruments::default();
        change(&mut instruments);
        Recorder::new(instruments).map(|_| ()).unwrap_err().to_string()
    };
    let rate = with(|i| i.rate_per_s = 0.0);
    assert_eq!(rate, "rate of readings is 0 per second, and must be a finite number above 0");
    assert!(with(|i| i.gauge.lag = Seconds::s(-1.0)).starts_with("lag of the gauge is -1 s"));
    assert!(with(|i| i.spirometer.noise = Flow::ml_s(f64::NAN)).starts_with("noise of the sp"));
    assert!(
        with(|i| i.gauge.offset = Pressure::cmh2o(f64::INFINITY)).starts_with("offset of the g")
    );
}
