//! Waveforms of plain machines, written fast, against the general engine.
#![allow(clippy::unwrap_used, reason = "a fault fails the test")]

use rand::{Rng, RngExt};
use tidewright::machine::Signal;
use tidewright::prelude::*;
use tidewright::random::generator;
use tidewright::trace::Sampler;
use tidewright_study::batch::{Samples, TwoNode, write_waveform};

/// Every sample of random machines, plain and odd ones.
#[test]
fn twin_general_engine_gives_every_sample() {
    let mut random = generator(12);
    let mut machines: Vec<TwoNode> = (0..60).map(|_| drawn(&mut random)).collect();
    // Gas stacks, the limit ends every breath, and the pressure is met on entry.
    let cat = TwoNode::of(&Setup::default()).unwrap();
    machines.push(TwoNode { expiratory_time: 0.1, ..cat });
    machines.push(TwoNode { inspiratory_time_limit: 0.4, ..cat });
    machines.push(TwoNode { cycling_pressure: 4.0, end_expiratory_pressure: 3.9, ..cat });
    machines.push(TwoNode { leak_conductance: 5.0, ..cat });
    for machine in machines {
        for rate in [1000.0, 37.0] {
            compare(&machine, rate, 6.0);
        }
    }
}

fn compare(machine: &TwoNode, rate: f64, duration_s: f64) {
    let count = (duration_s * rate) as usize;
    let mut columns = [vec![f64::NAN; count], vec![f64::NAN; count], vec![f64::NAN; count]];
    let [pressure_cmh2o, flow_ml_s, volume_ml] = &mut columns;
    write_waveform(machine, rate, &mut Samples { pressure_cmh2o, flow_ml_s, volume_ml }).unwrap();

    let protocol =
        Protocol { start: machine.setup(), changes: vec![], duration: Seconds::s(duration_s) };
    let simulation = Simulation::new(&protocol).unwrap();
    let mut sampler = Sampler::per_second(rate);
    let mut k = 0;
    for stretch in simulation.steps() {
        sampler.take(&stretch.unwrap(), |time_s, stretch, local_s| {
            if k == count {
                return;
            }
            // Both roads know an event to some 1e-14 s of the run's clock. Right behind
            // it the flow falls by thousands of its size a second, and a sample at the
            // event itself may be on either side.
            let tolerance = if local_s < 5e-3 { 1e-9 } else { 1e-11 };
            let to_event = local_s.min(stretch.piece.duration_s - local_s);
            let at = |signal| stretch.piece.at(signal, local_s).unwrap();
            let expected = [Signal::AirwayPressure, Signal::AirwayFlow, Signal::LungVolume].map(at);
            for (column, expected) in columns.iter().zip(expected) {
                let off = (column[k] - expected).abs() / expected.abs().max(10.0);
                assert!(
                    off <= tolerance || to_event < 1e-11,
                    "{} instead of {expected} at {time_s} s of {machine:?}",
                    column[k]
                );
            }
            k += 1;
        });
    }
    assert_eq!(k, count);
    assert!(columns.iter().flatten().all(|value| value.is_finite()));
}

fn drawn(random: &mut impl Rng) -> TwoNode {
    let mut around = |middle: f64| middle * tidewright::math::exp(random.random_range(-1.0..1.0));
    TwoNode {
        lung_compliance: around(5.0),
        airway_resistance: around(30.0),
        circuit_compliance: around(0.3),
        leak_conductance: around(0.2),
        valve_resistance: around(5.0),
        fresh_gas_flow: around(25.0),
        cycling_pressure: around(10.0),
        inspiratory_time_limit: around(2.5),
        expiratory_time: around(0.8),
        end_expiratory_pressure: around(0.5),
    }
}
