//! Figures of many kinds of run: what the tests check and the example draws.

use tidewright::math::{exp, sin};
use tidewright::prelude::*;
use tidewright_figures::{BreathEnd, Event, Ghost, Look, Phase, Waveforms};

/// A figure to draw, and its name.
pub struct Case {
    pub name: &'static str,
    pub waveforms: Waveforms,
    pub look: Look,
}

/// Every case.
pub fn all() -> Vec<Case> {
    let case = |name, waveforms| Case { name, waveforms, look: Look::PAGE };
    let leak = leak_opens();
    vec![
        case("first-breaths", first_breaths()),
        Case { name: "slide", waveforms: leak.clone(), look: Look::SLIDE },
        case("leak-opens", leak),
        case("one-breath", one_breath()),
        case("port-held-shut", port_held_shut()),
        case("long-run", long_run()),
        case("forty-breaths", forty_breaths()),
        case("effort", effort()),
        case("fighting", fighting()),
        case("rat", rat()),
        case("horse", horse()),
        case("long-title", long_title()),
        case("many-changes", many_changes()),
        case("standby", standby()),
        case("no-flow", no_flow()),
    ]
}

fn first_breaths() -> Waveforms {
    Waveforms {
        id: "first-breaths".into(),
        title: "First breaths: a 4.5 kg cat".into(),
        subtitle: Some("Fresh gas 2.2 L/min, cycling pressure 8 cmH₂O".into()),
        ..run(cat(), vec![], 20.0)
    }
}

fn leak_opens() -> Waveforms {
    let healthy = run(cat(), vec![], 24.0);
    Waveforms {
        id: "leak-opens".into(),
        title: "A leak opens: longer inspiration, then the time limit".into(),
        subtitle: Some("4.5 kg cat, fresh gas 2.2 L/min".into()),
        events: vec![event(8.0, "small leak"), event(16.0, "large leak")],
        ghost: Some(Ghost {
            label: "no leak".into(),
            airway_pressure_cmh2o: healthy.airway_pressure_cmh2o,
            airway_flow_ml_s: healthy.airway_flow_ml_s,
            lung_volume_ml: healthy.lung_volume_ml,
            ..Ghost::default()
        }),
        ..run(cat(), vec![(8.0, leaky(20.0)), (16.0, leaky(80.0))], 24.0)
    }
}

fn one_breath() -> Waveforms {
    Waveforms { id: "one-breath".into(), title: "One breath".into(), ..run(cat(), vec![], 4.0) }
}

fn port_held_shut() -> Waveforms {
    let mut setup = cat();
    setup.circuit.patient_port = PatientPort::Blocked;
    setup.ventilator.expiratory_time = Seconds::s(0.025);
    Waveforms {
        id: "port-held-shut".into(),
        title: "The port held shut: rapid short cycles".into(),
        ..run(setup, vec![], 60.0)
    }
}

fn long_run() -> Waveforms {
    let mut stiff = cat();
    stiff.lung.compartments[0].compliance = Compliance::ml_per_cmh2o(3.0);
    Waveforms {
        id: "long-run".into(),
        title: "Ten minutes: a leak grows, then the lung stiffens".into(),
        events: vec![event(200.0, "leak grows"), event(400.0, "stiff lung, no leak")],
        ..run(cat(), vec![(200.0, leaky(80.0)), (400.0, stiff)], 600.0)
    }
}

fn forty_breaths() -> Waveforms {
    Waveforms {
        id: "forty-breaths".into(),
        title: "A minute and a half".into(),
        ..run(faster(), vec![], 90.0)
    }
}

/// A patient who breathes against the ventilator, with an orifice leak, so that
/// the run takes the numeric road.
fn fighting() -> Waveforms {
    let mut setup = cat();
    setup.effort = Effort::breaths(Pressure::cmh2o(6.0), Seconds::s(0.9), Seconds::s(2.6));
    let leak =
        Leak { law: LeakLaw::Orifice, ..Leak::linear(Flow::ml_s(4.0), Pressure::cmh2o(10.0)) };
    setup.circuit.leak = Some(leak);
    Waveforms {
        id: "fighting".into(),
        title: "Own efforts against the ventilator".into(),
        ..run(setup, vec![], 16.0)
    }
}

fn rat() -> Waveforms {
    let lung = Lung::single(Compliance::ml_per_cmh2o(0.35), Resistance::cmh2o_s_per_l(150.0));
    let mut setup = Setup { lung, ..Setup::default() };
    setup.circuit.compliance = Compliance::ml_per_cmh2o(0.02);
    setup.ventilator.fresh_gas_flow = Flow::l_per_min(0.3);
    setup.ventilator.expiratory_time = Seconds::s(0.5);
    Waveforms { id: "rat".into(), title: "A rat of 350 g".into(), ..run(setup, vec![], 5.0) }
}

fn horse() -> Waveforms {
    let lung = Lung::single(Compliance::ml_per_cmh2o(600.0), Resistance::cmh2o_s_per_l(0.6));
    let mut setup = Setup { lung, ..Setup::default() };
    setup.circuit.compliance = Compliance::ml_per_cmh2o(8.0);
    setup.circuit.valve_resistance = Resistance::cmh2o_s_per_l(0.8);
    setup.ventilator.fresh_gas_flow = Flow::l_per_min(180.0);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(20.0);
    setup.ventilator.expiratory_time = Seconds::s(5.0);
    Waveforms { id: "horse".into(), title: "A horse of 500 kg".into(), ..run(setup, vec![], 40.0) }
}

fn long_title() -> Waveforms {
    Waveforms {
        id: "1 odd <id> & more".into(),
        title: "What happens to inspiratory time, tidal volume and the rate of breathing when \
                the fresh gas flow is doubled while the cycling pressure & the expiratory time \
                <stay> as they are: a question to answer before turning the page"
            .into(),
        subtitle: Some(
            "Mr Fußball's cat Zoë, 4 kg, with a breathing tube of 3.5 mm and a circuit that \
             was checked this morning"
                .into(),
        ),
        events: vec![event(10.0, "fresh gas 2.2 → 4.4 L/min")],
        ..run(cat(), vec![(10.0, faster())], 20.0)
    }
}

fn many_changes() -> Waveforms {
    let label = |i: usize| event(2.0 + i as f64, &format!("change number {}", i + 1));
    Waveforms {
        id: "many-changes".into(),
        title: "Too many changes".into(),
        events: (0..14).map(label).collect(),
        ..run(cat(), vec![(5.0, faster())], 20.0)
    }
}

fn standby() -> Waveforms {
    let mut setup = cat();
    setup.ventilator.mode = Mode::Standby;
    Waveforms {
        id: "standby".into(),
        title: "Into standby in mid-breath".into(),
        ..run(cat(), vec![(6.5, setup)], 12.0)
    }
}

fn no_flow() -> Waveforms {
    let mut setup = cat();
    setup.circuit.patient_port = PatientPort::Open;
    Waveforms {
        id: "no-flow".into(),
        title: "Patient disconnected".into(),
        ..run(setup, vec![], 12.0)
    }
}

/// Quiet breathing of a patient on a T-piece, and one breath of the ventilator, in
/// closed form: pressures below zero.
fn effort() -> Waveforms {
    let pi = std::f64::consts::PI;
    let breathing = |from: f64| {
        move |i: u32| {
            let t = f64::from(i) / 50.0;
            (from + t, sin(pi * t / 1.5))
        }
    };
    let wave = |from: f64| (0..=75).map(breathing(from)).collect::<Vec<_>>();
    let scaled = |from: f64, by: f64| wave(from).iter().map(|&(t, y)| (t, y * by)).collect();
    let fall = |i: u32| (7.0 + f64::from(i) / 20.0, 40.0 * exp(-f64::from(i) / 6.0));
    let volume: Vec<(f64, f64)> = (0..=60).map(fall).collect();
    Waveforms {
        id: "effort".into(),
        title: "Own breaths, then one from the ventilator".into(),
        start_s: 0.0,
        end_s: 10.0,
        airway_pressure_cmh2o: vec![
            scaled(0.0, -2.5),
            vec![(1.5, 0.0), (3.0, 0.0)],
            scaled(3.0, -3.5),
            vec![(4.5, 0.0), (6.0, 0.0)],
            vec![(6.0, 0.5), (7.0, 9.0)],
            vec![(7.0, 0.0), (10.0, 0.0)],
        ],
        airway_flow_ml_s: vec![
            scaled(0.0, 30.0),
            scaled(1.5, -30.0),
            scaled(3.0, 38.0),
            scaled(4.5, -38.0),
            vec![(6.0, 40.0), (7.0, 40.0)],
            volume.iter().map(|&(t, v)| (t, -v / 0.3)).collect(),
        ],
        lung_volume_ml: vec![
            vec![(0.0, 0.0), (1.5, 28.0), (3.0, 0.0), (4.5, 36.0), (6.0, 0.0), (7.0, 40.0)],
            volume,
        ],
        phases: vec![
            Phase { start_s: 0.0, end_s: 6.0, kind: PhaseKind::Standby },
            Phase { start_s: 6.0, end_s: 7.0, kind: PhaseKind::Inspiration },
            Phase { start_s: 7.0, end_s: 10.0, kind: PhaseKind::Expiration },
        ],
        breath_ends: vec![BreathEnd { at_s: 7.0, pressure_cmh2o: 9.0, by: EndedBy::Pressure }],
        ..Waveforms::default()
    }
}

/// A time limit so near to the inspiration that a leak passes it.
fn cat() -> Setup {
    let mut setup = Setup::default();
    setup.ventilator.fresh_gas_flow = Flow::l_per_min(1.25);
    setup.ventilator.cycling_pressure = Pressure::cmh2o(10.0);
    setup.ventilator.inspiratory_time_limit = Seconds::s(3.0);
    setup.ventilator.expiratory_time = Seconds::s(1.2);
    setup
}

fn faster() -> Setup {
    let mut setup = cat();
    setup.ventilator.fresh_gas_flow = Flow::l_per_min(2.4);
    setup
}

/// The cat with a leak of so many mL/min at 1 cmH2O.
fn leaky(ml_min: f64) -> Setup {
    let mut setup = cat();
    let flow = Flow::ml_s(ml_min / 60.0);
    setup.circuit.leak = Some(Leak::linear(flow, Pressure::cmh2o(1.0)));
    setup
}

fn run(start: Setup, changes: Vec<(f64, Setup)>, duration_s: f64) -> Waveforms {
    let changes =
        changes.into_iter().map(|(at_s, setup)| Change { at: Seconds::s(at_s), setup }).collect();
    let protocol = Protocol { start, changes, duration: Seconds::s(duration_s) };
    let simulation = Simulation::new(&protocol).expect("a sound protocol");
    Waveforms::from_run(&simulation.trace().expect("a run that goes on"), 0.0..duration_s)
}

fn event(at_s: f64, label: &str) -> Event {
    Event { at_s, label: label.to_owned() }
}
