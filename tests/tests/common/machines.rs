//! Random machines: everything a person could set up, and more.

use proptest::prelude::*;
use proptest::test_runner::Config;
use tidewright::prelude::*;

/// For a wider hunt set PROPTEST_CASES and PROPTEST_RNG_SEED.
pub fn cases(count: u32) -> Config {
    let default = Config::default();
    let cases = if std::env::var("PROPTEST_CASES").is_ok() { default.cases } else { count };
    Config { cases, failure_persistence: None, ..default }
}

/// What stays the same through a run, as it holds gas.
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    compartments: usize,
    rigid: bool,
    limb: bool,
    chest_wall: bool,
    viscoelastic: bool,
    effort: bool,
}

/// One to six compartments on a rigid or compressible circuit: no more elements
/// than a second statement of the plant can hold (see `plant.rs`).
pub fn plain_frame() -> impl Strategy<Value = Frame> {
    (1..=6_usize, prop::bool::weighted(0.25)).prop_map(|(compartments, rigid)| Frame {
        compartments,
        rigid,
        limb: false,
        chest_wall: false,
        viscoelastic: false,
        effort: false,
    })
}

/// Any frame of linear elements.
pub fn frame() -> impl Strategy<Value = Frame> {
    let some = || prop::bool::weighted(0.3);
    (plain_frame(), some(), some(), some(), some()).prop_map(
        |(plain, limb, chest_wall, viscoelastic, effort)| Frame {
            limb,
            chest_wall,
            viscoelastic,
            effort,
            ..plain
        },
    )
}

/// A frame of linear elements whose patient makes an effort.
pub fn breathing_frame() -> impl Strategy<Value = Frame> {
    frame().prop_map(|frame| Frame { effort: true, ..frame })
}

/// A setup on a frame.
pub fn setup(frame: Frame) -> impl Strategy<Value = Setup> {
    (lung(frame), effort(frame), circuit(frame), ventilator())
        .prop_map(|(lung, effort, circuit, ventilator)| Setup { lung, effort, circuit, ventilator })
}

/// A run of ten seconds on one frame, in which everything else may change up to
/// three times, in mid-phase as a rule.
pub fn protocol(frame: impl Strategy<Value = Frame>) -> impl Strategy<Value = Protocol> {
    frame.prop_flat_map(|frame| {
        let change = (0.0..10.0_f64, setup(frame));
        (setup(frame), prop::collection::vec(change, 0..=3)).prop_map(|(start, mut changes)| {
            changes.sort_by(|a, b| a.0.total_cmp(&b.0));
            let change = |(at, setup)| Change { at: Seconds::s(at), setup };
            let changes = changes.into_iter().map(change).collect();
            Protocol { start, changes, duration: Seconds::s(10.0) }
        })
    })
}

/// The same setup with some of its straight lines bent: what only the numeric
/// road can carry.
pub fn bent(setup: impl Strategy<Value = Setup>) -> impl Strategy<Value = Setup> {
    let law = prop::option::of((0.5..20.0_f64, 1.0..8.0_f64));
    let parts = (any::<bool>(), prop::option::of(1.0..6.0_f64), law, any::<bool>(), any::<bool>());
    (setup, parts).prop_map(|(mut setup, (orifice, spasm, sigmoid, check, quadratic))| {
        if let Some(leak) = setup.circuit.leak.as_mut().filter(|_| orifice) {
            leak.law = LeakLaw::Orifice;
        }
        setup.circuit.backflow_check = check;
        if let (true, Tube::Linear(resistance)) = (quadratic, setup.lung.tube) {
            let k1 = resistance.as_cmh2o_s_per_l();
            setup.lung.tube = Tube::Quadratic { k1, k2: 5.0 * k1 };
        }
        for part in &mut setup.lung.compartments {
            part.expiratory_resistance = spasm.map(|times| part.resistance * times);
            if let Some((middle, width)) = sigmoid {
                // Four widths of the middle compliance make the span.
                let span = Volume::ml(4.0 * width * part.compliance.as_ml_per_cmh2o());
                let (middle, width) = (Pressure::cmh2o(middle), Pressure::cmh2o(width));
                part.law = PressureVolume::Sigmoid { lower: Volume::ZERO, span, middle, width };
            }
        }
        setup
    })
}

/// A number whose logarithm is uniform.
#[allow(clippy::disallowed_methods, reason = "an oracle keeps apart from the engine's maths")]
pub fn log_uniform(low: f64, high: f64) -> impl Strategy<Value = f64> + Clone {
    (0.0..1.0_f64).prop_map(move |share| low * (high / low).powf(share))
}

fn or_zero(strategy: impl Strategy<Value = f64> + Clone) -> impl Strategy<Value = f64> + Clone {
    prop_oneof![1 => Just(0.0), 3 => strategy]
}

fn resistance(low: f64, high: f64) -> impl Strategy<Value = Resistance> + Clone {
    log_uniform(low, high).prop_map(Resistance::cmh2o_s_per_l)
}

fn compliance(low: f64, high: f64) -> impl Strategy<Value = Compliance> + Clone {
    log_uniform(low, high).prop_map(Compliance::ml_per_cmh2o)
}

fn lung(frame: Frame) -> impl Strategy<Value = Lung> {
    let part = (compliance(0.05, 500.0), resistance(1.0, 1000.0))
        .prop_map(|(compliance, resistance)| Compartment::new(compliance, resistance));
    let tube = prop_oneof![
        1 => Just(Tube::None),
        3 => resistance(0.5, 200.0).prop_map(Tube::Linear),
    ];
    let wall = (compliance(0.1, 1000.0), -2.0..5.0_f64).prop_map(|(compliance, pressed_by)| {
        ChestWall { compliance, pressed_by: Pressure::cmh2o(pressed_by), open_wound: None }
    });
    let branch = (compliance(0.5, 1000.0), resistance(5.0, 2000.0))
        .prop_map(|(compliance, resistance)| Viscoelastic { compliance, resistance });
    (prop::collection::vec(part, frame.compartments), tube, wall, branch).prop_map(
        move |(compartments, tube, wall, branch)| Lung {
            compartments,
            tube,
            chest_wall: frame.chest_wall.then_some(wall),
            viscoelastic: frame.viscoelastic.then_some(branch),
            ..Lung::default()
        },
    )
}

/// Half-sines, ramps and holds in any order, in or out.
fn effort(frame: Frame) -> impl Strategy<Value = Effort> {
    let pressure = || (-15.0..15.0_f64).prop_map(Pressure::cmh2o);
    let course = prop_oneof![
        pressure().prop_map(Course::Hold),
        (pressure(), pressure()).prop_map(|(from, to)| Course::Ramp(from, to)),
        pressure().prop_map(Course::HalfSine),
    ];
    let segment = (log_uniform(0.05, 3.0), course)
        .prop_map(|(duration, course)| Segment { duration: Seconds::s(duration), course });
    let most = if frame.effort { 4 } else { 0 };
    prop::collection::vec(segment, usize::from(frame.effort)..=most)
        .prop_map(|segments| Effort { segments })
}

fn circuit(frame: Frame) -> impl Strategy<Value = Circuit> {
    let leak = prop::option::of((or_zero(log_uniform(0.1, 100.0)), 5.0..40.0_f64));
    let port = prop_oneof![
        6 => Just(PatientPort::Connected),
        1 => Just(PatientPort::Blocked),
        1 => Just(PatientPort::Open),
    ];
    let limb = (compliance(0.01, 5.0), resistance(0.5, 200.0))
        .prop_map(|(compliance, resistance)| Limb { compliance, resistance, disconnected: false });
    let place = prop_oneof![Just(SensorPlace::PatientConnection), Just(SensorPlace::ValveEnd)];
    (compliance(0.01, 5.0), resistance(0.5, 300.0), leak, port, limb, place).prop_map(
        move |(compliance, valve_resistance, leak, port, limb, place)| Circuit {
            compliance: if frame.rigid { Compliance::ZERO } else { compliance },
            valve_resistance,
            leak: leak.map(|(flow, at)| Leak::linear(Flow::ml_s(flow), Pressure::cmh2o(at))),
            limb: frame.limb.then_some(limb),
            sensor: Sensor { place, ..Sensor::default() },
            // A rigid circuit whose every way out is shut has no solution.
            patient_port: if frame.rigid { PatientPort::Connected } else { port },
            ..Circuit::default()
        },
    )
}

fn ventilator() -> impl Strategy<Value = Ventilator> {
    let mode = prop_oneof![9 => Just(Mode::Ventilating), 1 => Just(Mode::Standby)];
    let end_expiratory = prop_oneof![2 => Just(0.0), 3 => -5.0..20.0_f64];
    (
        mode,
        or_zero(log_uniform(0.5, 1000.0)),
        -5.0..40.0_f64,
        or_zero(log_uniform(0.05, 5.0)),
        log_uniform(0.05, 5.0),
        end_expiratory,
        or_zero(log_uniform(0.001, 0.2)),
    )
        .prop_map(|(mode, flow, cycling, limit, expiratory, peep, delay)| Ventilator {
            mode,
            fresh_gas_flow: Flow::ml_s(flow),
            cycling_pressure: Pressure::cmh2o(cycling),
            inspiratory_time_limit: Seconds::s(limit),
            expiratory_time: Seconds::s(expiratory),
            end_expiratory_pressure: Pressure::cmh2o(peep),
            valve_delay: Seconds::s(delay),
        })
}
