//! Circuits put together from parts: the ready-made one, random ones, and what cannot be
//! joined.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

use rand::{Rng, RngExt};
use rayon::prelude::*;
use tidewright::assembly::{
    Adapter, Assembly, AssemblyError, At, JoinError, Mistake, Part, Scavenging, TPiece, TailBag,
    TestLung, ThinLine, Tubing, VentilatorBody, WasteTube,
};
use tidewright::exchange::Apparatus;
use tidewright::prelude::*;
use tidewright::random::generator;

#[test]
fn twin_the_ready_made_circuit_is_the_default_one_to_the_last_bit() {
    let made = Assembly::ready_made().assemble(&Setup::default()).unwrap();
    // Text of numbers is exact: a sum that was off in its last digit would show.
    assert_eq!(format!("{:?}", made.setup), format!("{:?}", Setup::default()));
    assert_eq!(made.apparatus, Apparatus::default());
}

/// Every part of which at least one lies on the table.
fn some_part(luck: &mut impl Rng) -> Part {
    let ml = |luck: &mut dyn FnMut() -> f64| Volume::ml(40.0 * luck());
    let mut draw = || if luck.random_bool(0.2) { 0.0 } else { luck.random::<f64>() };
    let compliance = Compliance::ml_per_cmh2o(2.0 * draw());
    let resistance = Resistance::cmh2o_s_per_l(200.0 * draw() * draw());
    let volume = ml(&mut draw);
    let yes = draw() > 0.5;
    let short = Adapter { volume, resistance, tap: yes };
    match (draw() * 17.0) as u32 {
        0 => Part::Patient,
        1 => Part::TestLung(TestLung {
            compliance: compliance + Compliance::ml_per_cmh2o(0.1),
            resistance: resistance + Resistance::cmh2o_s_per_l(1.0),
        }),
        2 => Part::GasSupply,
        3 => Part::Flowmeter,
        4 => Part::Hose,
        5 | 6 => Part::TPiece(TPiece { patient_leg: volume, limb_leg: ml(&mut draw), compliance }),
        7 | 8 => Part::Tubing(Tubing { volume, compliance, resistance }),
        9 => Part::Adapter(short),
        10 => Part::Filter(short),
        11 => Part::SensingLine(ThinLine { split_mm: draw().floor(), ..ThinLine::default() }),
        12 => Part::sampling_line(),
        13 => Part::Bag(TailBag { open: draw(), ..TailBag::default() }),
        14 => Part::WasteTube(WasteTube { resistance, blocked: yes }),
        15 => Part::Scavenging(Scavenging {
            resistance,
            pulls: Pressure::cmh2o(10.0 * draw()),
            relief: yes,
            blocked: draw() > 0.7,
        }),
        _ => Part::Plug,
    }
}

/// A circuit taken apart and put together again with other parts, by somebody who looks
/// at nothing but whether two ports go together.
fn some_assembly(seed: u64) -> Assembly {
    let mut luck = generator(seed);
    let from_parts = luck.random_bool(0.3);
    let mut made = if from_parts {
        let mut made = Assembly::default();
        made.lay_out("ventilator", Part::Ventilator(VentilatorBody::default())).unwrap();
        made
    } else {
        Assembly::ready_made()
    };
    let more = luck.random_range(0..if from_parts { 24 } else { 8 });
    for index in 0..more {
        made.lay_out(&format!("part-{index}"), some_part(&mut luck)).unwrap();
    }
    let taken_apart = luck.random_range(0..6);
    for _ in 0..taken_apart {
        let Some(joint) = made.joints().get(luck.random_range(0..12)).copied() else { continue };
        made.separate(&made.name_of(joint.a)).unwrap();
    }
    let ports: Vec<At> = made
        .pieces()
        .iter()
        .enumerate()
        .flat_map(|(part, piece)| piece.part.ports().iter().map(move |&port| At { part, port }))
        .collect();
    for _ in 0..luck.random_range(0..400) {
        let [a, b] = [0, 1].map(|_| ports[luck.random_range(0..ports.len())]);
        // Most of them do not fit, which is refused and changes nothing.
        let loose = luck.random_bool(0.1);
        let _ = made.join_ports(a, b, loose);
    }
    for piece in made.pieces().iter().map(|piece| piece.name.clone()).collect::<Vec<_>>() {
        if luck.random_bool(0.05) {
            made.piece_mut(&piece).unwrap().crack_mm = 2.0 * luck.random::<f64>();
        }
    }
    made
}

/// Gas lost over some seconds of a run, as a share of all that moved.
fn lost(setup: &Setup) -> f64 {
    let protocol = Protocol { start: setup.clone(), changes: vec![], duration: Seconds::s(6.0) };
    let (mut lost_ml, mut moved_ml) = (0.0, 0.0);
    for stretch in Simulation::new(&protocol).unwrap().steps() {
        let piece = &stretch.unwrap().piece;
        let passed = |signal| piece.integral(signal);
        let gained = |signal| piece.last(signal) - piece.first(signal);
        let fresh = setup.ventilator.fresh_gas_flow.as_ml_s() * piece.duration_s;
        let parts = [
            fresh,
            -gained(Signal::LungVolume),
            -gained(Signal::CircuitVolume),
            -passed(Signal::LeakFlow),
            -passed(Signal::ReliefFlow),
            -passed(Signal::OutletFlow),
            -passed(Signal::RoomFlow),
        ];
        lost_ml += parts.iter().sum::<f64>();
        moved_ml += parts.iter().map(|part| part.abs()).sum::<f64>();
    }
    lost_ml.abs() / (moved_ml + 1.0)
}

#[test]
fn law_ten_thousand_assemblies_conserve_their_gas_or_name_the_port_in_the_way() {
    let mut base = Setup::default();
    base.effort = Effort::breaths(Pressure::cmh2o(3.0), Seconds::s(0.7), Seconds::s(2.9));
    let ran = (0..10_000_u64)
        .into_par_iter()
        .map(|seed| {
            let mut base = base.clone();
            if seed % 3 == 0 {
                base.ventilator.mode = Mode::Standby;
            }
            if seed % 5 == 0 {
                base.ventilator.end_expiratory_pressure = Pressure::cmh2o(3.0);
            }
            let assembly = some_assembly(seed);
            let told = assembly.trace();
            match assembly.assemble(&base) {
                Ok(made) => {
                    assert!(told.unwrap().len() >= 4, "seed {seed}");
                    made.apparatus.check().unwrap();
                    let lost = lost(&made.setup);
                    assert!(lost < 1e-6, "seed {seed} loses {lost:e} of its gas");
                    1
                }
                Err(error) => {
                    let port = named_port(&error);
                    assert!(assembly.at(port).is_ok(), "seed {seed}: `{port}` in {error}");
                    assert!(error.to_string().contains(port));
                    0
                }
            }
        })
        .sum::<u32>();
    // Neither all nor none.
    assert!((3_000..9_700).contains(&ran), "{ran} of 10,000 ran");
}

/// The port that a refusal names.
fn named_port(error: &AssemblyError) -> &str {
    match error {
        AssemblyError::NoTPiece { port }
        | AssemblyError::Ring { port }
        | AssemblyError::Misplaced { port, .. }
        | AssemblyError::Part { port, .. }
        | AssemblyError::NoWayOut { port }
        | AssemblyError::Setup { port, .. } => port,
        // There is always one ventilator here.
        AssemblyError::Count { .. } => "",
    }
}

#[test]
fn a_ring_a_third_t_piece_and_a_circuit_without_one_are_refused_by_their_port() {
    let mut ring = Assembly::ready_made();
    ring.lay_out("spare", Part::Tubing(Tubing::default())).unwrap();
    for port in ["t-piece.patient", "ventilator.patient-side"] {
        ring.separate(port).unwrap();
    }
    ring.join("limb.far", "spare.near").unwrap();
    ring.join("spare.far", "t-piece.patient").unwrap();
    let error = ring.assemble(&Setup::default()).unwrap_err();
    assert!(
        matches!(&error, AssemblyError::Ring { port } if port == "t-piece.limb"
        || port == "t-piece.patient"),
        "{error}"
    );

    let mut bare = Assembly::ready_made();
    for port in ["t-piece.patient", "t-piece.limb", "t-piece.sense", "t-piece.fresh-gas"] {
        bare.separate(port).unwrap();
    }
    bare.join("connector.far", "limb.near").unwrap();
    let error = bare.assemble(&Setup::default()).unwrap_err();
    assert_eq!(error, AssemblyError::NoTPiece { port: "ventilator.patient-side".to_owned() });
}

#[test]
fn what_does_not_fit_is_refused_in_words() {
    let mut circuit = Assembly::ready_made();
    circuit.separate("hose.patient-end").unwrap();
    circuit.separate("limb.far").unwrap();
    let error = circuit.join("hose.patient-end", "limb.far").unwrap_err();
    assert_eq!(
        error.to_string(),
        "`hose.patient-end` (the end of a hose) does not fit `limb.far` (a wide connector): look for \
         one of its own kind"
    );
    assert!(matches!(circuit.join("hose.patient", "limb.far"), Err(JoinError::NoSuchPort { .. })));
    assert!(matches!(circuit.join("house", "limb.far"), Err(JoinError::NoSuchPart { .. })));
    assert!(matches!(circuit.separate("limb.far"), Err(JoinError::NotJoined { .. })));
}

#[test]
fn every_mistake_is_another_circuit_than_was_meant_and_says_so() {
    for &mistake in Mistake::ALL {
        let (meant, made) = (mistake.meant(), mistake.made());
        assert_ne!(meant, made, "{}", mistake.name());
        let [meant, made] =
            [meant, made].map(|circuit| circuit.assemble(&Setup::default()).unwrap());
        assert_ne!(meant, made, "{}", mistake.name());
        let says = mistake.says();
        assert!(says.ends_with('.') && (60..400).contains(&says.len()), "{says}");
    }
}

#[test]
fn the_path_is_told_from_the_supply_to_the_waste() {
    let told = |circuit: &Assembly| circuit.trace().unwrap().join("\n");
    assert_eq!(
        told(&Assembly::ready_made()),
        "Fresh gas comes from gas-supply through flowmeter and hose to t-piece, near the patient.\n\
         From t-piece it goes through connector to the patient and back.\n\
         From t-piece it leaves through limb into the ventilator, and behind its valve by waste-tube \
         away.\n\
         The ventilator senses pressure at t-piece.sense by sensing-line.\n\
         On the table: plug."
    );
    assert!(told(&Mistake::HoseAtFarEnd.made()).contains("at the far end of the limb"));
    assert!(told(&Mistake::BagTailClosed.made()).contains("into bag, whose tail is closed"));
    assert!(
        told(&Mistake::PushedOn.made()).contains("t-piece.limb is only pushed on to limb.near.")
    );
    assert!(told(&Mistake::PlugForgotten.made()).contains("against plug: nothing passes"));
    assert!(told(&Mistake::SensingLineOff.made()).contains("senses no pressure"));
}

/// The places that a limb and a bag keep while a circuit is changed are not felt: pressures
/// and volumes of a minute are those of the circuit that has none.
#[test]
fn twin_a_circuit_that_goes_on_changing_breathes_as_one_that_does_not() {
    let last = |setup: Setup| {
        let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(31.3) };
        let run = Simulation::new(&protocol).unwrap();
        let last = run.steps().last().unwrap().unwrap();
        [Signal::AirwayPressure, Signal::LungVolume].map(|signal| last.piece.last(signal))
    };
    for mode in [Mode::Ventilating, Mode::Standby] {
        let mut base = Setup::default();
        base.ventilator.mode = mode;
        for mistake in Mistake::ALL {
            for mut made in [mistake.meant(), mistake.made()] {
                let own = last(made.assemble(&base).unwrap().setup);
                // A bag that only lies there is not felt either.
                let _ = made.lay_out("idle-bag", Part::Bag(TailBag::default()));
                let lasting = last(made.assemble_to_change(&base).unwrap().setup);
                for (own, lasting) in own.into_iter().zip(lasting) {
                    let near = (own - lasting).abs() < 0.02 * own.abs() + 0.05;
                    assert!(near, "{mistake:?}, {mode:?}: {own} and {lasting}");
                }
            }
        }
    }
}

/// A run goes on from any of these circuits to any other of the same parts.
#[test]
fn law_a_run_goes_on_while_parts_are_joined_and_parted() {
    let base = Setup::default();
    let mut made = Assembly::ready_made();
    made.lay_out("bag", Part::Bag(TailBag::default())).unwrap();
    let mut run = LiveRun::new(made.assemble_to_change(&base).unwrap().setup).unwrap();
    let mut luck = generator(11);
    let ports: Vec<String> = ["limb.near", "limb.far", "ventilator.outlet", "t-piece.patient"]
        .map(str::to_owned)
        .to_vec();
    let mut changed = 0;
    for round in 0..200 {
        run.advance(Seconds::s(0.7 * f64::from(round)), |_| {}).unwrap();
        let port = &ports[luck.random_range(0..ports.len())];
        if made.separate(port).is_err() {
            for other in [
                "limb.near",
                "limb.far",
                "ventilator.patient-side",
                "bag.neck",
                "waste-tube.neck",
                "t-piece.limb",
                "connector.far",
            ] {
                if luck.random_bool(0.4) && made.join(port, other).is_ok() {
                    break;
                }
            }
        }
        if let Ok(now) = made.assemble_to_change(&base) {
            run.change(now.setup).unwrap();
            changed += 1;
        }
        assert!(run.read(Signal::AirwayPressure).unwrap().is_finite());
    }
    assert!(changed > 100, "{changed}");
}
