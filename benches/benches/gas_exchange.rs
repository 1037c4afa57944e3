//! One simulated hour of a ventilated cat: the breaths alone, and with gas
//! exchange. The aim is 150 ms for the latter on one core.
#![expect(clippy::unwrap_used, reason = "a bench stops where its setup is wrong")]

use criterion::{Criterion, criterion_group, criterion_main};
use tidewright::coupled::{Coupled, GasLimits, GasPlan, GasSettings, GasTotals};
use tidewright::drive::Drive;
use tidewright::exchange::{
    Apparatus, Capnograph, Conditions, Exchange, Fractions, USUAL_STEPS, follow,
};
use tidewright::prelude::*;
use tidewright::species::{Animal, Species};

fn one_hour(criterion: &mut Criterion) {
    let cat = Animal::typical(Species::Cat, Mass::kg(4.0));
    let mut start = Setup { lung: cat.lung(), ..Setup::default() };
    start.ventilator.fresh_gas_flow = Flow::l_per_min(2.0);
    start.ventilator.cycling_pressure = Pressure::cmh2o(10.0);
    start.ventilator.inspiratory_time_limit = Seconds::s(3.0);
    start.ventilator.expiratory_time = Seconds::s(2.5);
    let exchange = Exchange::new(&cat, &start.lung, Apparatus::default()).unwrap();
    let now = Conditions::of(&cat, 38.5, Fractions::OXYGEN);
    let gas = exchange.steady(PartialPressure::mmhg(38.0), &now);
    let simulation_start = start.clone();
    let protocol = Protocol { start, changes: vec![], duration: Seconds::s(3600.0) };
    let simulation = Simulation::new(&protocol).unwrap();

    let mut group = criterion.benchmark_group("one hour");
    group.sample_size(20);
    group.bench_function("breaths alone", |bencher| {
        bencher.iter(|| {
            simulation.steps().map(|stretch| stretch.unwrap().piece.duration_s).sum::<f64>()
        });
    });
    group.bench_function("with gas exchange", |bencher| {
        bencher.iter(|| {
            let mut gas = gas.clone();
            for stretch in simulation.steps() {
                follow(&exchange, &mut gas, &stretch.unwrap(), &now, USUAL_STEPS, |_, _| {})
                    .unwrap();
            }
            gas
        });
    });
    let plan = GasPlan {
        arterial_carbon_dioxide: PartialPressure::mmhg(38.0),
        capnograph: Capnograph::new(Seconds::s(1.5), Seconds::s(0.2)),
        start: GasSettings { conditions: now, drive: None },
        changes: vec![],
        animal: cat.clone(),
        exchange: exchange.clone(),
    };
    let totals_of = |simulation: &Simulation, plan: &GasPlan| {
        let mut totals = GasTotals::new(GasLimits::default());
        for together in Coupled::new(simulation, Some(plan)).unwrap() {
            totals.take(&together.unwrap().gas.unwrap());
        }
        totals
    };
    group.bench_function("with gas exchange, capnograph and totals", |bencher| {
        bencher.iter(|| totals_of(&simulation, &plan));
    });
    let mut standby = simulation_start.clone();
    standby.ventilator.mode = Mode::Standby;
    let drive = Some(Drive::of(&cat, 0.7));
    let own = GasPlan { start: GasSettings { drive, ..plan.start }, ..plan.clone() };
    let protocol = Protocol { start: standby, changes: vec![], duration: Seconds::s(3600.0) };
    let simulation = Simulation::new(&protocol).unwrap();
    group.bench_function("own breaths by drive, capnograph and totals", |bencher| {
        bencher.iter(|| totals_of(&simulation, &own));
    });
    group.finish();
}

criterion_group!(benches, one_hour);
criterion_main!(benches);
