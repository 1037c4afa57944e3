//! A run that one owns: told to go on in however many parts, saved, branched and
//! restored, it is the run that nobody looked at.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

mod common;

use std::sync::Arc;

use common::machines::{bent, cases, frame, protocol, setup};
use proptest::prelude::*;
use tidewright::coupled::{Coupled, GasPlan, GasSettings};
use tidewright::drive::Drive;
use tidewright::exchange::{Apparatus, Capnograph, Conditions, Exchange, Fractions, GasError};
use tidewright::live::{Dials, LiveError, Passing, Scope, Snapshot};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};
use tidewright::step::Place;

const LASTS_S: f64 = 10.0;

/// What somebody who looks at a run does at one time.
#[derive(Clone, Copy, Debug)]
enum Look {
    Reads,
    SavesAndRestores,
    Branches,
    GoesOnElsewhere,
}

fn look() -> impl Strategy<Value = Look> {
    prop_oneof![
        Just(Look::Reads),
        Just(Look::SavesAndRestores),
        Just(Look::Branches),
        Just(Look::GoesOnElsewhere)
    ]
}

fn looks() -> impl Strategy<Value = Vec<(f64, Look)>> {
    prop::collection::vec((0.0..LASTS_S, look()), 0..12).prop_map(|mut looks| {
        looks.sort_by(|a, b| a.0.total_cmp(&b.0));
        looks
    })
}

/// All bits that matter of the pieces that are over, and of what was sampled.
#[derive(Debug, Default, PartialEq)]
struct Record {
    pieces: Vec<(u64, u64, Option<Cause>)>,
    gas: Vec<(u64, u64)>,
    samples: Vec<u64>,
    end: Vec<u64>,
}

struct Watched {
    record: Record,
    scope: Scope,
    lost_ml: f64,
    passed_ml: f64,
}

impl Watched {
    fn new() -> Self {
        let scope = Scope::truth(&[Signal::AirwayPressure, Signal::LungVolume], 20.0).unwrap();
        Self { record: Record::default(), scope, lost_ml: 0.0, passed_ml: 0.0 }
    }

    fn take(&mut self, passing: &Passing<'_>) {
        self.scope.take(passing);
        let points = passing.gas_points().iter();
        self.record.gas.extend(points.map(|p| (p.at_s.to_bits(), p.carbon_dioxide_mmhg.to_bits())));
        let Some(stretch) = passing.finished() else { return };
        let piece = &stretch.piece;
        let bits = (piece.start_s.to_bits(), piece.duration_s.to_bits(), piece.ended_by);
        self.record.pieces.push(bits);
        let (lost, passed) = balance(stretch);
        self.lost_ml += lost;
        self.passed_ml += passed;
    }

    fn finish(mut self, run: &LiveRun) -> Self {
        for sample in self.scope.drain() {
            self.record.samples.push(sample.at.as_s().to_bits());
            self.record.samples.extend(sample.values.iter().map(|value| value.to_bits()));
        }
        let end = Signal::ALL.map(|signal| run.read(signal).unwrap().to_bits());
        self.record.end.extend(end);
        self
    }
}

/// Gas lost in a piece, mL, and all that moved or is held.
fn balance(stretch: &Stretch<'_>) -> (f64, f64) {
    let (machine, piece) = (stretch.machine, &stretch.piece);
    let passed = |signal| piece.integral(signal);
    let ends = |signal| [piece.last(signal), -piece.first(signal)];
    let mut parts = vec![machine.setup().ventilator.fresh_gas_flow.as_ml_s() * piece.duration_s];
    parts.extend(ends(Signal::LungVolume).map(|gas| -gas));
    parts.extend(ends(Signal::CircuitVolume).map(|gas| -gas));
    let out = [Signal::LeakFlow, Signal::ReliefFlow, Signal::OutletFlow, Signal::RoomFlow];
    parts.extend(out.map(|signal| -passed(signal)));
    (parts.iter().sum(), parts.iter().map(|part| part.abs()).sum())
}

/// Lets a run go on to the end of a protocol, changed as it says, looked at or not.
fn live(mut run: LiveRun, changes: &[Change], looks: &[(f64, Look)]) -> Option<Watched> {
    let mut watched = Watched::new();
    let (mut looks, mut changes) = (looks.iter().peekable(), changes.iter().peekable());
    loop {
        let look_s = looks.peek().map_or(LASTS_S, |look| look.0);
        let change_s = changes.peek().map_or(LASTS_S, |change| change.at.as_s());
        let to_s = look_s.min(change_s);
        run.advance(Seconds::s(to_s), |passing| watched.take(passing)).ok()?;
        if let Some(change) = changes.next_if(|change| change.at.as_s() <= to_s) {
            run.change(change.setup.clone()).unwrap();
        } else if let Some((_, look)) = looks.next_if(|look| look.0 <= to_s) {
            run = looked_at(run, *look);
        } else {
            return Some(watched.finish(&run));
        }
    }
}

fn looked_at(mut run: LiveRun, look: Look) -> LiveRun {
    match look {
        Look::Reads => {
            run.read(Signal::AlveolarPressure).unwrap();
            let _ = run.gas().unwrap().map(|gas| gas.tensions());
        }
        Look::SavesAndRestores => {
            let saved: Snapshot = run.snapshot();
            run.restore(&saved);
        }
        Look::Branches => {
            let saved = run.snapshot();
            let mut other = run.machine().setup().clone();
            other.ventilator.expiratory_time = Seconds::s(0.7);
            run.change(other).unwrap();
            // What comes of it may be a run that cannot go on.
            let _ = run.advance(Seconds::s(run.now().as_s() + 2.0), |_| {});
            run.restore(&saved);
        }
        Look::GoesOnElsewhere => run = LiveRun::from(run.snapshot()),
    }
    run
}

fn begin(start: &Setup) -> LiveRun {
    LiveRun::new(start.clone()).unwrap()
}

/// The lung of an animal on a ventilator or breathing by itself, with its gas.
fn with_gas(species: Species, kg: f64, own: bool, flow: f64) -> LiveRun {
    let animal = Animal::typical(species, Mass::kg(kg));
    let mut setup = Setup { lung: animal.lung(), ..Setup::default() };
    setup.ventilator.fresh_gas_flow = Flow::l_per_min(flow * kg);
    if own {
        setup.ventilator.mode = Mode::Standby;
    }
    let plan = plan(animal, &setup, own);
    LiveRun::with_gas(Arc::new(Machine::new(setup).unwrap()), &plan).unwrap()
}

fn plan(animal: Animal, setup: &Setup, own: bool) -> GasPlan {
    GasPlan {
        exchange: Exchange::new(&animal, &setup.lung, Apparatus::default()).unwrap(),
        arterial_carbon_dioxide: PartialPressure::mmhg(45.0),
        capnograph: Capnograph::new(Seconds::s(1.0), Seconds::s(0.2)),
        start: GasSettings {
            conditions: Conditions::of(&animal, 38.0, Fractions::OXYGEN),
            drive: own.then(|| Drive::of(&animal, 0.5)),
        },
        changes: vec![],
        animal,
    }
}

proptest! {
    #![proptest_config(cases(120))]

    #[test]
    fn twin_a_run_that_is_looked_at_and_one_that_is_not(
        protocol in protocol(frame()), looks in looks()
    ) {
        let Protocol { start, changes, .. } = protocol;
        let alone = live(begin(&start), &changes, &[]);
        let looked = live(begin(&start), &changes, &looks);
        prop_assert_eq!(alone.is_some(), looked.is_some());
        let (Some(alone), Some(looked)) = (alone, looked) else { return Ok(()) };
        prop_assert_eq!(&alone.record, &looked.record);
        prop_assert!(
            looked.lost_ml.abs() <= 1e-12 * looked.passed_ml + 1e-9,
            "{:e} mL of {} mL", looked.lost_ml, looked.passed_ml
        );
    }

    #[test]
    fn twin_a_run_on_the_numeric_road_that_is_looked_at(
        start in bent(frame().prop_flat_map(setup)), looks in looks()
    ) {
        let looks = &looks[..looks.len().min(4)];
        let alone = live(begin(&start), &[], &[]);
        let looked = live(begin(&start), &[], looks);
        prop_assert_eq!(alone.map(|run| run.record), looked.map(|run| run.record));
    }

    #[test]
    fn twin_a_run_with_gas_that_is_looked_at(
        own in any::<bool>(), kg in 1.0..30.0_f64, flow in 0.1..1.0_f64, looks in looks(),
        change_s in 0.0..LASTS_S,
    ) {
        let run = with_gas(Species::Dog, kg, own, flow);
        let mut setup = run.machine().setup().clone();
        setup.ventilator.fresh_gas_flow = setup.ventilator.fresh_gas_flow * 1.5;
        let changes = [Change { at: Seconds::s(change_s), setup }];
        let before = balance_of_gas(&run);
        let alone = live(run.clone(), &changes, &[]).unwrap();
        let looked = live(run, &changes, &looks).unwrap();
        prop_assert_eq!(&alone.record, &looked.record);
        prop_assert!(alone.record.gas.len() > 50 && before.is_finite());
    }
}

fn balance_of_gas(run: &LiveRun) -> f64 {
    let gas = run.gas().unwrap().unwrap();
    gas.exchange().balance(gas.state()).volume
}

/// Without a change the run is that of a protocol.
#[test]
fn twin_a_live_run_and_the_steps_of_a_simulation() {
    let start = tidewright_tests::two_node::cat();
    let protocol = Protocol { start: start.clone(), changes: vec![], duration: Seconds::s(60.0) };
    let simulation = Simulation::new(&protocol).unwrap();
    let known: Vec<Piece<'_>> = simulation.steps().map(|stretch| stretch.unwrap().piece).collect();
    let mut told = 0;
    let mut run = begin(&start);
    run.advance(Seconds::s(60.0), |passing| {
        if let Some(stretch) = passing.finished() {
            assert_eq!(stretch.piece, known[told]);
            told += 1;
        }
    })
    .unwrap();
    // The last one was cut by the end of the protocol.
    assert_eq!(told, known.len() - 1);
}

/// Gas is conserved over looks, changes and branches.
#[test]
fn law_of_conservation_over_a_live_run_with_gas() {
    for own in [false, true] {
        let mut run = with_gas(Species::Rabbit, 3.0, own, 0.2);
        let before = balance_of_gas(&run);
        for look in 1..200_u32 {
            run.advance(Seconds::s(f64::from(look) * 0.73), |_| {}).unwrap();
            if look % 37 == 0 {
                let mut setup = run.machine().setup().clone();
                setup.ventilator.fresh_gas_flow = setup.ventilator.fresh_gas_flow * 1.1;
                run.change(setup).unwrap();
            }
        }
        let after = balance_of_gas(&run);
        let used = run.gas().unwrap().unwrap().fresh_gas_used().volume;
        assert!((after - before).abs() < 1e-12 * used, "{before} mL, then {after} mL of {used} mL");
    }
}

#[test]
fn what_would_lose_gas_is_refused_and_nothing_moves() {
    let mut start = tidewright_tests::two_node::cat();
    start.circuit.compliance = Compliance::ml_per_cmh2o(1.5);
    let part = start.lung.compartments[0].clone();
    start.lung.compartments.push(part);
    let mut run = begin(&start);
    run.advance(Seconds::s(0.7), |_| {}).unwrap();
    let before = Signal::ALL.map(|signal| run.read(signal).unwrap());
    let mut rigid = start.clone();
    rigid.circuit.compliance = Compliance::ZERO;
    let mut one = start.clone();
    one.lung.compartments.pop();
    for (setup, place) in [(rigid, "circuit's compliance"), (one, "lung compartment")] {
        let machine = Machine::new(setup.clone()).unwrap();
        let refused = Moment::at_rest(run.machine()).under(&machine, run.machine());
        assert_eq!(refused.unwrap_err().place, place);
        let protocol = Protocol {
            start: start.clone(),
            changes: vec![Change { at: Seconds::s(0.7), setup: setup.clone() }],
            duration: Seconds::s(2.0),
        };
        assert!(matches!(Simulation::new(&protocol), Err(ProtocolError::Structure { .. })));
        let error = run.change(setup).unwrap_err();
        assert!(matches!(error, LiveError::Structure(Misplaced { place: p }) if p == place));
        assert_eq!(Signal::ALL.map(|signal| run.read(signal).unwrap()), before);
    }
    let bad = run.put_gas(Place::Compartment(4), Volume::ml(1.0));
    assert!(matches!(bad, Err(LiveError::NoSuchPlace { .. })));
    let bad = run.put_gas(Place::TPiece, Volume::ml(f64::NAN));
    assert!(matches!(bad, Err(LiveError::OutOfRange { .. })));
    let bad = run.breathe_in(Pressure::cmh2o(5.0), Seconds::ZERO);
    assert!(matches!(bad, Err(LiveError::OutOfRange { .. })));
    for to_s in [0.3, f64::NAN, f64::INFINITY] {
        let bad = run.advance(Seconds::s(to_s), |_| {});
        assert!(matches!(bad, Err(LiveError::NotAhead { .. })), "{to_s}");
    }
    assert!(matches!(run.change_adapter(3.0), Err(LiveError::NoGas)));
    assert_eq!(Signal::ALL.map(|signal| run.read(signal).unwrap()), before);
}

#[test]
fn gas_that_cannot_be_is_refused_where_plan_and_simulation_meet() {
    let animal = Animal::typical(Species::Dog, Mass::kg(25.0));
    let start = Setup { lung: animal.lung(), ..Setup::default() };
    let good = plan(animal, &start, false);
    let refused = |plan: &GasPlan, start: &Setup| {
        let protocol =
            Protocol { start: start.clone(), changes: vec![], duration: Seconds::s(1.0) };
        let simulation = Simulation::new(&protocol).unwrap();
        let by_protocol = Coupled::new(&simulation, Some(plan)).map(|_| ()).unwrap_err();
        let machine = Arc::new(Machine::new(start.clone()).unwrap());
        if plan.changes.is_empty() {
            let by_run = LiveRun::with_gas(machine, plan).map(|_| ()).unwrap_err();
            // Their words: what is no number equals nothing.
            assert_eq!(by_run.to_string(), by_protocol.to_string());
        }
        by_protocol
    };
    for (carbon_dioxide, oxygen) in [(0.0, 21.0), (0.0, f64::NAN), (-0.1, 1.0), (0.6, 0.6)] {
        let mut plan = good.clone();
        plan.start.conditions.fresh_gas = Fractions { carbon_dioxide, oxygen };
        refused(&plan, &start);
    }
    let mut two = start.clone();
    two.lung.compartments.push(two.lung.compartments[0].clone());
    assert_eq!(refused(&good, &two), GasError::OtherLung { exchange: 1, machine: 2 });
    let mut plan = good.clone();
    let change =
        |at_s| tidewright::coupled::GasChange { at: Seconds::s(at_s), settings: good.start };
    plan.changes = vec![change(5.0), change(2.0)];
    assert_eq!(refused(&plan, &start), GasError::Order { at_s: 2.0, before_s: 5.0 });
    plan.changes = vec![change(f64::NAN)];
    assert!(matches!(refused(&plan, &start), GasError::Order { .. }));
    for (longest_s, most) in [(0.0, 0.5), (-1.0, 0.5), (f64::NAN, 0.5), (0.1, 0.0)] {
        assert!(tidewright::exchange::Steps::new(longest_s, most).is_err());
    }
    let mut seven = start.clone();
    seven.lung.compartments = vec![start.lung.compartments[0].clone(); 7];
    assert!(Exchange::new(&good.animal, &seven.lung, Apparatus::default()).is_err());
}

/// Instruments have a memory and a noise; neither hangs on how often one looks.
#[test]
fn dials_show_the_same_however_often_one_looks() {
    use tidewright::instrument::Instruments;
    let read = |looks: u32| {
        let mut run = begin(&tidewright_tests::two_node::cat());
        let mut dials = Dials::new(Instruments::ordinary(11)).unwrap();
        for look in 1..=looks {
            let to = Seconds::s(6.0 * f64::from(look) / f64::from(looks));
            run.advance(to, |passing| dials.take(passing)).unwrap();
        }
        dials.drain().collect::<Vec<_>>()
    };
    let once = read(1);
    assert_eq!(once.len(), 301);
    assert_eq!(once, read(7));
    assert_eq!(once, read(640));
}

#[test]
fn a_run_can_be_handed_to_another_thread() {
    fn movable<T: Send + 'static>(_: &T) {}
    let run = with_gas(Species::Cat, 4.0, true, 0.5);
    movable(&run);
    movable(&run.snapshot());
}
