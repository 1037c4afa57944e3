//! How many attempts are marked in a second: every shipped attempt of every
//! lesson, on one core and on two.
#![allow(missing_docs, clippy::unwrap_used, reason = "a bench, whose macro makes items of its own")]

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use tidewright_benches::marking::{Class, cores};

fn marking(criterion: &mut Criterion) {
    let class = Class::shipped(|_| true);
    let mut group = criterion.benchmark_group("marking");
    group.throughput(Throughput::Elements(class.attempts() as u64));
    for count in [1, 2] {
        let pool = cores(count);
        group.bench_function(format!("every shipped attempt, cores: {count}"), |bencher| {
            bencher.iter(|| pool.install(|| class.passed()));
        });
    }
    group.finish();
}

criterion_group!(benches, marking);
criterion_main!(benches);
