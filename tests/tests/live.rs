//! A run that one owns: told to go on in however many parts, saved, branched and
//! restored, it is the run that nobody looked at.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

mod common;

use common::live_runs::{begin, with_gas};
use common::machines::{bent, cases, frame, protocol, setup};
use proptest::prelude::*;
use tidewright::live::{Passing, Scope, Snapshot};
use tidewright::prelude::*;
use tidewright::species::Species;
use tidewright::step::Place;

const LASTS_S: f64 = 10.0;

/// What somebody who looks at a run does at one time.
#[derive(Clone, Copy, Debug)]
enum Look {
    Reads,
    SavesAndRestores,
    Branches,
    GoesOnElsewhere,
    GoesOnAsBytes,
}

fn look() -> impl Strategy<Value = Look> {
    prop_oneof![
        Just(Look::Reads),
        Just(Look::SavesAndRestores),
        Just(Look::Branches),
        Just(Look::GoesOnElsewhere),
        Just(Look::GoesOnAsBytes)
    ]
}

/// What is done to a run: to both of those that are compared.
#[derive(Clone, Debug)]
enum Act {
    Changes(Box<Setup>),
    PutsGas(Place, f64),
    BreathesIn(f64, f64),
    SlowsBlood(f64),
}

type Acts = Vec<(f64, Act)>;

/// Changes, and what else is done beside them, in order of time.
fn acts(changes: Vec<Change>) -> impl Strategy<Value = Acts> {
    let act = prop_oneof![
        (0..3_usize, -2.0..5.0_f64).prop_map(|(place, ml)| Act::PutsGas(
            [Place::TPiece, Place::ValveEnd, Place::Compartment(0)][place],
            ml
        )),
        (0.5..15.0_f64, 0.05..2.0_f64).prop_map(|(cmh2o, s)| Act::BreathesIn(cmh2o, s)),
        (0.2..1.5_f64).prop_map(Act::SlowsBlood),
    ];
    prop::collection::vec((0.0..LASTS_S, act), 0..4).prop_map(move |mut acts| {
        let changes = changes.iter();
        acts.extend(changes.map(|c| (c.at.as_s(), Act::Changes(Box::new(c.setup.clone())))));
        acts.sort_by(|a, b| a.0.total_cmp(&b.0));
        acts
    })
}

/// Whether it was done.
fn done(run: &mut LiveRun, act: &Act) -> bool {
    match act {
        Act::Changes(setup) => run.change((**setup).clone()).is_ok(),
        Act::PutsGas(place, ml) => run.put_gas(*place, Volume::ml(*ml)).is_ok(),
        Act::BreathesIn(cmh2o, s) => {
            run.breathe_in(Pressure::cmh2o(*cmh2o), Seconds::s(*s)).is_ok()
        }
        Act::SlowsBlood(share) => {
            let settings = run.gas().ok().flatten().map(|gas| gas.settings());
            settings.is_some_and(|mut settings| {
                settings.conditions.demand.cardiac_output_ml_s *= share;
                run.set_gas(settings).is_ok()
            })
        }
    }
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
    done: Vec<bool>,
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

/// Lets a run go on to its end, with what is done to it, looked at or not.
fn live(mut run: LiveRun, acts: &[(f64, Act)], looks: &[(f64, Look)]) -> Option<Watched> {
    let mut watched = Watched::new();
    let (mut looks, mut acts) = (looks.iter().peekable(), acts.iter().peekable());
    loop {
        let look_s = looks.peek().map_or(LASTS_S, |look| look.0);
        let act_s = acts.peek().map_or(LASTS_S, |act| act.0);
        let to_s = look_s.min(act_s);
        run.advance(Seconds::s(to_s), |passing| watched.take(passing)).ok()?;
        if let Some((_, act)) = acts.next_if(|act| act.0 <= to_s) {
            watched.record.done.push(done(&mut run, act));
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
        Look::GoesOnAsBytes => run = as_bytes(&run),
    }
    run
}

#[cfg(feature = "serde")]
fn as_bytes(run: &LiveRun) -> LiveRun {
    let bytes = run.snapshot().to_bytes().unwrap();
    LiveRun::from(Snapshot::from_bytes(&bytes).unwrap())
}

#[cfg(not(feature = "serde"))]
fn as_bytes(run: &LiveRun) -> LiveRun {
    LiveRun::from(run.snapshot())
}

proptest! {
    #![proptest_config(cases(120))]

    #[test]
    fn twin_a_run_that_is_looked_at_and_one_that_is_not(
        (start, acts) in protocol(frame()).prop_flat_map(|run| (Just(run.start), acts(run.changes))),
        looks in looks(),
    ) {
        same(begin(&start), &acts, &looks)?;
    }

    #[test]
    fn twin_a_run_on_the_numeric_road_that_is_looked_at(
        (start, acts) in frame().prop_flat_map(|frame| {
            let change = (0.0..LASTS_S, bent(setup(frame)));
            (bent(setup(frame)), prop::collection::vec(change, 0..3))
        }).prop_flat_map(|(start, changes)| {
            let change = |(at, setup)| Change { at: Seconds::s(at), setup };
            (Just(start), acts(changes.into_iter().map(change).collect()))
        }),
        looks in looks(),
    ) {
        same(begin(&start), &acts, &looks[..looks.len().min(4)])?;
    }

    #[test]
    fn twin_a_run_with_gas_that_is_looked_at(
        own in any::<bool>(), kg in 1.0..30.0_f64, flow in 0.1..1.0_f64, looks in looks(),
        acts in acts(vec![]), change_s in 0.0..LASTS_S,
    ) {
        let run = with_gas(Species::Dog, kg, own, flow);
        let mut setup = run.machine().setup().clone();
        setup.ventilator.fresh_gas_flow = setup.ventilator.fresh_gas_flow * 1.5;
        let mut acts = acts;
        acts.push((change_s, Act::Changes(Box::new(setup))));
        acts.sort_by(|a, b| a.0.total_cmp(&b.0));
        let looked = same(run, &acts, &looks)?;
        prop_assert!(looked.is_some_and(|run| run.record.gas.len() > 50));
    }
}

/// The run looked at, which is the one not looked at to the last bit, and lost no gas.
fn same(
    run: LiveRun,
    acts: &[(f64, Act)],
    looks: &[(f64, Look)],
) -> Result<Option<Watched>, TestCaseError> {
    let alone = live(run.clone(), acts, &[]);
    let looked = live(run, acts, looks);
    prop_assert_eq!(alone.is_some(), looked.is_some());
    let (Some(alone), Some(looked)) = (alone, looked) else { return Ok(None) };
    prop_assert_eq!(&alone.record, &looked.record);
    prop_assert!(
        looked.lost_ml.abs() <= 1e-12 * looked.passed_ml + 1e-9,
        "{:e} mL of {} mL",
        looked.lost_ml,
        looked.passed_ml
    );
    Ok(Some(looked))
}
