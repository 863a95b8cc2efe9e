//! How many calculator lines a second one core answers.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use evenfield::cli::calc::{answer_line, run};
use std::hint::black_box;

const DIFFERENTIAL: &str = r#"{"id": 1, "op": "differential", "ags": 95, "course_rating": 71.5, "slope": 125}"#;
const LINES: usize = 1_000;

fn calc(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("calc");
    group.throughput(Throughput::Elements(1));
    group.bench_function("differential line", |bencher| {
        bencher.iter(|| answer_line(black_box(DIFFERENTIAL.as_bytes())));
    });
    let input = format!("{DIFFERENTIAL}\n").repeat(LINES);
    group.throughput(Throughput::Elements(LINES as u64));
    group.bench_function("differential run", |bencher| {
        let mut output = Vec::new();
        bencher.iter(|| {
            output.clear();
            run(&mut black_box(input.as_bytes()), &mut output)
        });
    });
    group.finish();
}

criterion_group!(benches, calc);
criterion_main!(benches);
