//! Whatever numbers a person types: a clear error, or a run of finite numbers;
//! never a panic and never a run that does not come back.

mod common;

use common::machines::cases;
use proptest::prelude::*;
use tidewright::prelude::*;

/// In range by definition, however odd: from 1e-9 to 1e9.
fn odd() -> impl Strategy<Value = f64> + Clone {
    prop::sample::select(vec![1e-9, 1e-6, 1e-3, 1.0, 20.0, 1e3, 1e6, 1e9])
}

fn odd_or_zero() -> impl Strategy<Value = f64> + Clone {
    prop_oneof![1 => Just(0.0), 6 => odd()]
}

/// Pressures, negative ones too.
fn pressure() -> impl Strategy<Value = Pressure> + Clone {
    (odd_or_zero(), any::<bool>())
        .prop_map(|(size, negative)| Pressure::cmh2o(if negative { -size } else { size }))
}

fn resistance() -> impl Strategy<Value = Resistance> + Clone {
    odd().prop_map(Resistance::cmh2o_s_per_l)
}

fn compliance() -> impl Strategy<Value = Compliance> + Clone {
    odd().prop_map(Compliance::ml_per_cmh2o)
}

fn lung(curved: bool) -> impl Strategy<Value = Lung> {
    let law = (odd(), odd(), pressure()).prop_map(move |(span, width, middle)| {
        if !curved {
            return PressureVolume::Linear;
        }
        PressureVolume::Sigmoid {
            lower: Volume::ZERO,
            span: Volume::ml(span),
            middle,
            width: Pressure::cmh2o(width),
        }
    });
    let part = (compliance(), resistance(), law).prop_map(|(compliance, resistance, law)| {
        Compartment { law, ..Compartment::new(compliance, resistance) }
    });
    let tube = prop_oneof![
        Just(Tube::None),
        resistance().prop_map(Tube::Linear),
        (odd(), odd_or_zero()).prop_map(move |(k1, k2)| {
            Tube::Quadratic { k1, k2: if curved { k2 } else { 0.0 } }
        }),
        Just(Tube::Shut),
    ];
    let wall = prop::option::of((compliance(), pressure()));
    (prop::collection::vec(part, 1..=6), tube, wall).prop_map(|(compartments, tube, wall)| Lung {
        compartments,
        tube,
        chest_wall: wall.map(|(compliance, pressed_by)| ChestWall {
            compliance,
            pressed_by,
            open_wound: None,
        }),
        ..Lung::default()
    })
}

fn circuit(curved: bool) -> impl Strategy<Value = Circuit> {
    let port =
        prop::sample::select(vec![PatientPort::Connected, PatientPort::Blocked, PatientPort::Open]);
    let law = if curved { LeakLaw::Orifice } else { LeakLaw::Linear };
    let leak = prop::option::of((odd_or_zero(), odd()).prop_map(move |(flow, at)| Leak {
        flow: Flow::ml_s(flow),
        at: Pressure::cmh2o(at),
        law,
    }));
    let limb = prop::option::of((odd_or_zero(), resistance()).prop_map(|(compliance, r)| Limb {
        compliance: Compliance::ml_per_cmh2o(compliance),
        resistance: r,
        disconnected: false,
    }));
    (odd_or_zero(), resistance(), port, leak, limb).prop_map(
        move |(compliance, valve_resistance, patient_port, leak, limb)| Circuit {
            compliance: Compliance::ml_per_cmh2o(compliance),
            valve_resistance,
            patient_port,
            leak,
            limb,
            backflow_check: curved,
            ..Circuit::default()
        },
    )
}

fn ventilator() -> impl Strategy<Value = Ventilator> {
    let seconds = || odd_or_zero().prop_map(Seconds::s);
    (odd_or_zero(), pressure(), pressure(), seconds(), seconds(), seconds()).prop_map(
        |(flow, cycling, peep, limit, expiratory, delay)| Ventilator {
            mode: Mode::Ventilating,
            fresh_gas_flow: Flow::ml_s(flow),
            cycling_pressure: cycling,
            end_expiratory_pressure: peep,
            inspiratory_time_limit: limit,
            expiratory_time: expiratory,
            valve_delay: delay,
        },
    )
}

fn setup(curved: bool) -> impl Strategy<Value = Setup> {
    (lung(curved), circuit(curved), ventilator()).prop_map(|(lung, circuit, ventilator)| Setup {
        lung,
        circuit,
        ventilator,
        effort: Effort::none(),
    })
}

/// Runs some pieces and reads everything from them.
fn run(setup: &Setup, pieces: usize) -> Result<(), TestCaseError> {
    let machine = match Machine::new(setup.clone()) {
        Ok(machine) => machine,
        Err(error) => {
            prop_assert_eq!(error, SetupError::NowhereToGo);
            return Ok(());
        }
    };
    let mut moment = Moment::at_rest(&machine);
    for _ in 0..pieces {
        let done = match step(&machine, &moment, 60.0) {
            Ok(done) => done,
            Err(error) => {
                let clear = matches!(error, StepError::Chatter { .. });
                prop_assert!(clear, "{error}");
                return Ok(());
            }
        };
        for signal in Signal::ALL {
            let (low, high) = done.piece.range(signal);
            let ends =
                [Piece::first, Piece::last, Piece::integral].map(|read| read(&done.piece, signal));
            let values = [low, high, ends[0], ends[1], ends[2]];
            prop_assert!(values.iter().all(|x| x.is_finite()), "{signal:?} {values:?}");
        }
        moment = done.next;
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(200))]

    #[test]
    fn extremes_of_linear_machines_give_finite_numbers(setup in setup(false)) {
        run(&setup, 30)?;
    }

    #[test]
    fn extremes_of_curved_machines_give_finite_numbers(setup in setup(true)) {
        run(&setup, 15)?;
    }
}

/// A way to put a number into a setup, and the name that its error must give.
type Knob = (&'static str, fn(&mut Setup, f64));

const KNOBS: [Knob; 15] = [
    ("lung compliance", |s, x| s.lung.compartments[0].compliance = Compliance::ml_per_cmh2o(x)),
    ("lung resistance", |s, x| s.lung.compartments[0].resistance = Resistance::cmh2o_s_per_l(x)),
    ("tube resistance", |s, x| s.lung.tube = Tube::Linear(Resistance::cmh2o_s_per_l(x))),
    ("k1 of the tube", |s, x| s.lung.tube = Tube::Quadratic { k1: x, k2: 0.0 }),
    ("k2 of the tube", |s, x| s.lung.tube = Tube::Quadratic { k1: 1.0, k2: x }),
    ("circuit compliance", |s, x| s.circuit.compliance = Compliance::ml_per_cmh2o(x)),
    ("valve resistance", |s, x| s.circuit.valve_resistance = Resistance::cmh2o_s_per_l(x)),
    ("leak flow", |s, x| {
        s.circuit.leak = Some(Leak::linear(Flow::ml_s(x), Pressure::cmh2o(30.0)));
    }),
    ("leak test pressure", |s, x| {
        s.circuit.leak = Some(Leak::orifice(Flow::ml_s(5.0), Pressure::cmh2o(x)));
    }),
    ("fresh gas flow", |s, x| s.ventilator.fresh_gas_flow = Flow::l_per_min(x)),
    ("cycling pressure", |s, x| s.ventilator.cycling_pressure = Pressure::cmh2o(x)),
    ("end-expiratory pressure", |s, x| {
        s.ventilator.end_expiratory_pressure = Pressure::cmh2o(x);
    }),
    ("inspiratory time limit", |s, x| s.ventilator.inspiratory_time_limit = Seconds::s(x)),
    ("expiratory time", |s, x| s.ventilator.expiratory_time = Seconds::s(x)),
    ("valve delay", |s, x| s.ventilator.valve_delay = Seconds::s(x)),
];

#[test]
fn extremes_beyond_every_measure_are_refused_by_name() {
    let nonsense = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, -1e300, 1e-320, -1e-320];
    for (name, set) in KNOBS {
        let signed = name.ends_with("cycling pressure") || name.starts_with("end-expiratory");
        for value in nonsense.into_iter().filter(|x| !signed || x.is_nan() || x.abs() >= 1.0) {
            let mut setup = Setup::default();
            set(&mut setup, value);
            let error = Machine::new(setup).err();
            let text = error.map(|error| error.to_string()).unwrap_or_default();
            assert!(text.starts_with(name), "{name} of {value}: '{text}'");
        }
    }
}

#[test]
fn extremes_from_a_rat_to_a_horse_breathe() {
    // Compliance, resistance, flow, from memory as sizes only: 0.35 kg to 500 kg.
    for (compliance, resistance, l_per_min) in
        [(0.3, 250.0, 0.3), (6.0, 30.0, 2.0), (40.0, 8.0, 12.0), (1000.0, 0.5, 300.0)]
    {
        let mut setup = Setup::default();
        setup.lung = Lung::single(
            Compliance::ml_per_cmh2o(compliance),
            Resistance::cmh2o_s_per_l(resistance),
        );
        setup.circuit.valve_resistance = Resistance::cmh2o_s_per_l(0.2 * resistance);
        setup.ventilator.fresh_gas_flow = Flow::l_per_min(l_per_min);
        setup.ventilator.cycling_pressure = Pressure::cmh2o(10.0);
        setup.ventilator.inspiratory_time_limit = Seconds::s(3.0);
        setup.ventilator.expiratory_time = Seconds::s(1.2);
        let breath = common::steady(&setup);
        assert_eq!(breath.ended_by, EndedBy::Pressure);
        let volume = breath.inspired_tidal_volume.as_ml();
        assert!(volume > 5.0 * compliance && volume < 10.0 * compliance, "{volume} mL");
    }
}

#[test]
fn extremes_of_settings_that_end_every_breath_at_once_still_let_time_pass() {
    let settings: [fn(&mut Ventilator); 4] = [
        |v| v.end_expiratory_pressure = v.cycling_pressure + Pressure::cmh2o(5.0),
        |v| v.cycling_pressure = Pressure::cmh2o(-3.0),
        |v| v.inspiratory_time_limit = Seconds::ZERO,
        |v| (v.cycling_pressure, v.fresh_gas_flow) = (Pressure::ZERO, Flow::ZERO),
    ];
    for set in settings {
        let mut setup = Setup::default();
        setup.ventilator.expiratory_time = Seconds::s(1.2);
        set(&mut setup.ventilator);
        let breaths = common::run(&setup, 12.1);
        assert_eq!(breaths.len(), 10);
        assert!(breaths.iter().all(|breath| breath.inspiratory_time == Seconds::ZERO));
    }
}

#[test]
fn extremes_of_protocols_are_refused() {
    let change = |at| Change { at: Seconds::s(at), setup: Setup::default() };
    let run = |changes, duration| {
        let duration = Seconds::s(duration);
        Simulation::new(&Protocol { start: Setup::default(), changes, duration }).map(|_| ())
    };
    for duration in [f64::NAN, f64::INFINITY, -1.0] {
        assert!(matches!(run(vec![], duration), Err(ProtocolError::Duration { .. })));
    }
    for at in [f64::NAN, -1.0] {
        assert!(matches!(run(vec![change(at)], 9.0), Err(ProtocolError::Order { .. })));
    }
    let swapped = vec![change(5.0), change(4.0)];
    assert!(matches!(run(swapped, 9.0), Err(ProtocolError::Order { .. })));
    assert_eq!(run(vec![], 0.0), Ok(()));
    assert_eq!(run(vec![change(0.0), change(0.0), change(9.0), change(1e308)], 9.0), Ok(()));

    let mut two_lungs = change(5.0);
    two_lungs.setup.lung.compartments.push(Lung::default().compartments.remove(0));
    let mut rigid = change(5.0);
    rigid.setup.circuit.compliance = Compliance::ZERO;
    for change in [two_lungs, rigid] {
        let refused = run(vec![change], 9.0);
        assert!(matches!(refused, Err(ProtocolError::Structure { at_s: 5.0, .. })), "{refused:?}");
    }
}

#[test]
fn extremes_of_two_faults_at_once_still_leave_a_machine() {
    use tidewright::fault::Fault;
    let resistance = Resistance::cmh2o_s_per_l(10.0);
    let tubes = [
        Tube::None,
        Tube::Shut,
        Tube::Linear(resistance),
        Tube::Quadratic { k1: 5.0, k2: 20.0 },
        Tube::OneWay { inward: Some(resistance), outward: None },
    ];
    let severities = [1e-9, 0.001, 0.5, 1.0];
    for tube in tubes {
        for all_shut in [false, true] {
            let mut setup = Setup::default();
            setup.lung.tube = tube;
            setup.lung.compartments[0].shut = all_shut;
            for (&first, &second) in
                Fault::ALL.iter().flat_map(|a| Fault::ALL.iter().map(move |b| (a, b)))
            {
                for severity in severities {
                    let both = second.apply(&first.apply(&setup, severity), severity);
                    let refused = Machine::check(&both).err();
                    assert_eq!(
                        refused, None,
                        "{first:?}, then {second:?} at {severity} on {tube:?}"
                    );
                }
            }
        }
    }
}

#[test]
fn extremes_of_a_law_that_no_step_can_follow_end_in_an_error() {
    // Not a law of a lung: its pressure has a tooth of 1 cmH2O at every nanolitre.
    let teeth = UserLaw::new(|ml: f64| {
        let odd = (1e6 * ml).rem_euclid(2.0) >= 1.0;
        (ml / 6.0 + if odd { 1.0 } else { 0.0 }, 1.0 / 6.0)
    });
    let mut setup = Setup::default();
    setup.lung.compartments[0].law = PressureVolume::User(teeth);
    let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(60.0) };
    let ended = Simulation::new(&protocol).map(|run| run.breaths().map(|_| ()));
    assert!(matches!(ended, Ok(Err(StepError::StandsStill { .. }))), "{ended:?}");
}
