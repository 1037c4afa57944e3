//! How gas is followed along a run: what it comes to does not depend on how finely, nor on
//! changes that change nothing.
#![expect(clippy::unwrap_used, reason = "a test stops where the setup is wrong")]

use std::sync::Arc;

use tidewright::coupled::{Coupled, GasChange, GasPlan, GasSettings};
use tidewright::drive::Drive;
use tidewright::exchange::{
    Apparatus, Capnograph, Conditions, Exchange, Fractions, GasBreath, Steps,
};
use tidewright::live::LiveRun;
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};

fn cat() -> (Setup, Animal) {
    let cat = Animal::typical(Species::Cat, Mass::kg(4.5));
    (Setup { lung: cat.lung(), ..Setup::default() }, cat)
}

fn plan(cat: &Animal, setup: &Setup, limb_ml: f64) -> GasPlan {
    let apparatus = Apparatus { limb_ml, inlet: setup.circuit.inlet, ..Apparatus::default() };
    GasPlan {
        exchange: Exchange::new(cat, &setup.lung, apparatus).unwrap(),
        arterial_carbon_dioxide: PartialPressure::mmhg(38.0),
        capnograph: Capnograph::new(Seconds::ZERO, Seconds::ZERO),
        start: GasSettings {
            conditions: Conditions::of(cat, 38.0, Fractions::OXYGEN),
            drive: None,
        },
        changes: vec![],
        animal: cat.clone(),
    }
}

fn breaths(protocol: &Protocol, plan: &GasPlan, steps: Option<Steps>) -> Vec<GasBreath> {
    let simulation = Simulation::new(protocol).unwrap();
    let mut run = Coupled::new(&simulation, Some(plan)).unwrap();
    if let Some(steps) = steps {
        run.follow_in(steps);
    }
    run.flat_map(|together| together.unwrap().gas.unwrap().breaths).collect()
}

/// End-tidal and mean inspired carbon dioxide, inspired volume and oxygen, over the last
/// 20 whole breaths.
fn means(breaths: &[GasBreath]) -> [f64; 4] {
    let last = &breaths[breaths.len() - 20..];
    let mean = |of: fn(&GasBreath) -> f64| last.iter().map(of).sum::<f64>() / 20.0;
    [
        mean(|breath| breath.end_tidal_carbon_dioxide.as_mmhg()),
        mean(|breath| breath.mean_inspired_carbon_dioxide.as_mmhg()),
        mean(|breath| breath.inspired.as_ml()),
        mean(|breath| 100.0 * breath.inspired_oxygen.unwrap()),
    ]
}

/// A cat that breathes by itself at a T-piece, fresh gas near the patient about where
/// rebreathing ends, and at the machine end: the usual steps against 25 times finer ones.
#[test]
fn twin_the_usual_steps_lie_with_the_finest() {
    let finest = Steps::new(0.002, 0.01).unwrap();
    let cases = [
        (FreshGasInlet::Patient, 100.0, [1.0, 1.8, 2.6]),
        (FreshGasInlet::Machine, 60.0, [0.6, 1.8, 3.4]),
    ];
    for (inlet, limb_ml, flows) in cases {
        for flow in flows {
            let (mut setup, cat) = cat();
            setup.ventilator.mode = Mode::Standby;
            setup.ventilator.fresh_gas_flow = Flow::l_per_min(flow);
            setup.circuit.inlet = inlet;
            setup.effort = Effort::breaths(Pressure::cmh2o(8.0), Seconds::s(1.0), Seconds::s(2.5));
            let plan = plan(&cat, &setup, limb_ml);
            let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(200.0) };
            let usual = means(&breaths(&protocol, &plan, None));
            let fine = means(&breaths(&protocol, &plan, Some(finest)));
            let off = |i: usize| (usual[i] / fine[i] - 1.0).abs();
            let all = format!("{inlet:?} {flow} L/min: {usual:?} {fine:?}");
            assert!(off(0) < 1e-3 && off(1) < 1e-3 && off(2) < 5e-4, "{all}");
            assert!((usual[3] - fine[3]).abs() < 0.2, "{all}");
        }
    }
}

/// A patient that breathes by its drive: as many breaths, each when the finest steps say
/// (within 30 ms and 2 parts in 10,000), and no phantom breath where a step is cut short.
#[test]
fn twin_own_breaths_come_when_the_finest_steps_say() {
    for (species, kg) in [(Species::Cat, 4.0), (Species::Rabbit, 2.2), (Species::Dog, 20.0)] {
        let animal = Animal::typical(species, Mass::kg(kg));
        let mut setup = Setup { lung: animal.lung(), ..Setup::default() };
        setup.ventilator.mode = Mode::Standby;
        setup.ventilator.fresh_gas_flow = Flow::ml_s(10.0 + 4.0 * kg);
        let mut plan = plan(&animal, &setup, 100.0);
        plan.start.drive = Some(Drive::of(&animal, 0.5));
        let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(600.0) };
        let usual = breaths(&protocol, &plan, None);
        let finest = Some(Steps::new(0.005, 0.025).unwrap());
        let fine = breaths(&protocol, &plan, finest);
        assert_eq!(usual.len(), fine.len(), "{species}");
        for (usual, fine) in usual.iter().zip(&fine) {
            let late_s = usual.start.as_s() - fine.start.as_s();
            let allowed_s = 0.03 + 2e-4 * fine.start.as_s();
            assert!(late_s.abs() < allowed_s, "{species} {}: {late_s} s", fine.number);
            let ratio = usual.inspired.as_ml() / fine.inspired.as_ml();
            assert!((ratio - 1.0).abs() < 5e-3, "{species} {}: {ratio}", fine.number);
        }
    }
}

/// Whatever blood is ahead by in a pause is counted: at the end of any step, as much is
/// held as came, went and was made.
#[test]
fn law_of_conservation_at_every_moment_on_either_road() {
    for leak in [None, Some(Leak::orifice(Flow::ml_s(5.0), Pressure::cmh2o(30.0)))] {
        let (mut setup, cat) = cat();
        setup.circuit.leak = leak;
        let plan = plan(&cat, &setup, 100.0);
        let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(300.0) };
        let simulation = Simulation::new(&protocol).unwrap();
        let mut run = Coupled::new(&simulation, Some(&plan)).unwrap();
        while let Some(together) = run.next() {
            together.unwrap();
            let ledger = run.gas().unwrap().ledger();
            for account in [ledger.carbon_dioxide, ledger.oxygen] {
                let off = account.unexplained_ml().abs();
                assert!(off < 1e-9 * (1.0 + account.made_ml.abs()), "{account:?}");
            }
        }
    }
}

/// Changes to what holds already: the run is the same to the last bit.
#[test]
fn law_a_change_that_changes_nothing_leaves_no_trace() {
    let (setup, cat) = cat();
    let mut plan = plan(&cat, &setup, 100.0);
    let alone = Protocol { start: setup.clone(), changes: vec![], duration: Seconds::s(60.0) };
    let expected = breaths(&alone, &plan, None);
    let times = (1..160).map(|k| Seconds::s(0.37 * f64::from(k)));
    let change = |at| Change { at, setup: setup.clone() };
    let changed = Protocol { changes: times.clone().map(change).collect(), ..alone };
    let unchanged = plan.start;
    let settings = |at| GasChange { at, settings: unchanged };
    plan.changes = times.clone().map(settings).collect();
    assert_eq!(breaths(&changed, &plan, None), expected);

    plan.changes.clear();
    let machine = Arc::new(Machine::new(setup.clone()).unwrap());
    let mut live = LiveRun::with_gas(machine, &plan).unwrap();
    let mut told = Vec::new();
    for at in times.chain([Seconds::s(60.0)]) {
        live.advance(at, |passing| {
            told.extend(passing.finished_gas().iter().flat_map(|gas| gas.breaths.clone()));
        })
        .unwrap();
        live.change(setup.clone()).unwrap();
        live.set_gas(unchanged).unwrap();
    }
    assert_eq!(told[..], expected[..told.len()]);
    assert!(told.len() + 1 >= expected.len());
}

/// One that changes nothing that could be noticed ends a step where it stands; breaths feel
/// that by less than 0.1 %.
#[test]
fn twin_where_steps_end_hardly_matters() {
    let (setup, cat) = cat();
    let mut plan = plan(&cat, &setup, 100.0);
    let protocol = Protocol { start: setup, changes: vec![], duration: Seconds::s(90.0) };
    let alone = breaths(&protocol, &plan, None);
    for every_s in [0.37, 0.0731] {
        let changes = (1..(80.0 / every_s) as u32).map(|k| {
            let mut settings = plan.start;
            settings.conditions.demand.oxygen_ml_s *= 1.0 + 1e-13 * f64::from(k % 2);
            GasChange { at: Seconds::s(every_s * f64::from(k)), settings }
        });
        plan.changes = changes.collect();
        for (cut, whole) in breaths(&protocol, &plan, None).iter().zip(&alone) {
            let [cut, whole] = [cut, whole].map(|b| b.end_tidal_carbon_dioxide.as_mmhg());
            assert!((cut / whole - 1.0).abs() < 1e-3, "{every_s}: {cut} {whole}");
        }
    }
}
