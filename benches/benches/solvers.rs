//! Ten simulated minutes, side by side.

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, criterion_group, criterion_main};
use tidewright::prelude::*;
use tidewright_benches::{cat, with_diffsol, with_ode_solvers};

fn ten_minutes(c: &mut Criterion) {
    let mut group = c.benchmark_group("ten minutes of a cat, linear");
    group.sample_size(10).measurement_time(Duration::from_secs(3));
    let simulation = Simulation::new(&cat::linear()).expect("a machine that runs");
    group.bench_function("exact, every breath metric", |b| {
        b.iter(|| black_box(simulation.breaths()).map(|(breaths, _)| breaths.len()));
    });
    group.bench_function("exact, waveform at 100 Hz", |b| {
        b.iter(|| {
            let (mut sampler, mut sum) = (Sampler::per_second(100.0), 0.0);
            for stretch in simulation.steps().flatten() {
                sampler.take(&stretch, |_, stretch, t| {
                    sum += stretch.piece.nearest(Signal::AirwayPressure, t);
                });
            }
            black_box(sum)
        });
    });
    let numeric = Simulation::with_solver(&cat::linear(), Solver::Numeric).expect("a machine");
    group.bench_function("numeric, every breath metric", |b| {
        b.iter(|| black_box(numeric.breaths()).map(|(breaths, _)| breaths.len()));
    });
    group.bench_function("ode_solvers Dopri5 1e-10", |b| {
        b.iter(|| black_box(with_ode_solvers::inspiratory_times(false, 1e-10)));
    });
    group.bench_function("diffsol BDF 1e-10", |b| {
        b.iter(|| black_box(with_diffsol::inspiratory_times(1e-10)));
    });
    group.finish();

    let mut group = c.benchmark_group("ten minutes of a cat, orifice and quadratic tube");
    group.sample_size(10).measurement_time(Duration::from_secs(3));
    let simulation = Simulation::new(&cat::curved()).expect("a machine that runs");
    group.bench_function("numeric, every breath metric", |b| {
        b.iter(|| black_box(simulation.breaths()).map(|(breaths, _)| breaths.len()));
    });
    group.bench_function("ode_solvers Dopri5 1e-9", |b| {
        b.iter(|| black_box(with_ode_solvers::inspiratory_times(true, 1e-9)));
    });
    group.finish();

    c.bench_function("a machine made ready", |b| {
        b.iter(|| black_box(Machine::new(Setup::default())).is_ok());
    });
}

criterion_group!(benches, ten_minutes);
criterion_main!(benches);
