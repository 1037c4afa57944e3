//! How many attempts are marked in a second: every shipped attempt of every
//! lesson once, on one core.
#![allow(missing_docs, clippy::unwrap_used, reason = "a bench, whose macro makes items of its own")]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use tidewright_scenario::{Attempt, Scenario, parse, parse_attempt};
use tidewright_training::mark;

fn ron_files(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries.filter(|path| path.extension().is_some_and(|end| end == "ron")).collect()
}

fn attempts() -> Vec<(Arc<Scenario>, Attempt)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/training");
    let mut all = Vec::new();
    for path in ron_files(&folder) {
        let scenario = Arc::new(parse("a.ron", &fs::read_to_string(path).unwrap()).unwrap());
        for path in ron_files(&folder.join("attempts").join(scenario.id.as_str())) {
            let text = fs::read_to_string(path).unwrap();
            all.push((Arc::clone(&scenario), parse_attempt("a.ron", &text).unwrap()));
        }
    }
    all
}

fn marking(criterion: &mut Criterion) {
    let all = attempts();
    let mut group = criterion.benchmark_group("marking");
    group.throughput(Throughput::Elements(all.len() as u64));
    group.bench_function("every shipped attempt", |bencher| {
        bencher.iter(|| {
            let passed = |(scenario, attempt): &&(Arc<Scenario>, Attempt)| {
                mark(scenario, attempt).unwrap().passed
            };
            all.iter().filter(passed).count()
        });
    });
    group.finish();
}

criterion_group!(benches, marking);
criterion_main!(benches);
