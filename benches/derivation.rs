//! The derivation: one member's record, a season's table, a card boiled down.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on stops")]

use criterion::{Criterion, criterion_group, criterion_main};
use evenfield::demo::{DemoTerms, league};
use evenfield::domain::competition::table::season_table;
use evenfield::domain::putting::PuttingTotals;
use evenfield::domain::putting::baseline::Baseline;
use evenfield::domain::season::record::member_record;
use evenfield::wire::bundle::assemble::Assembler;
use evenfield::wire::bundle::line::Line;
use std::hint::black_box;

fn benches(criterion: &mut Criterion) {
    let demo = league(&DemoTerms { seed: 1, players: 200, events: 30, today: "2027-01-14".parse().unwrap() });
    let mut assembler = Assembler::default();
    for line in &demo.lines {
        assembler.add(line.clone()).unwrap();
    }
    let Assembler { book, entries, .. } = assembler;
    let member = book.members.keys().copied().max_by_key(|id| entries.iter().filter(|e| e.member == *id).count());
    let member = member.unwrap();
    let own: Vec<_> = entries.iter().filter(|entry| entry.member == member).cloned().collect();
    criterion.bench_function(&format!("member_record over {} rounds", own.len()), |bencher| {
        bencher.iter(|| member_record(&book, member, black_box(&own), None));
    });
    let figures: Vec<_> =
        book.members.keys().flat_map(|id| member_record(&book, *id, &entries, None).figures).collect();
    criterion.bench_function(&format!("season_table over {} rounds", figures.len()), |bencher| {
        bencher.iter(|| season_table(&book, demo.season, black_box(&figures), None, &Default::default()));
    });
    let round = demo.lines.iter().find_map(|line| match line {
        Line::Round(round) => Some(&round.body.round),
        _ => None,
    });
    let round = round.unwrap();
    criterion.bench_function("a card's putts boiled down", |bencher| {
        bencher.iter(|| PuttingTotals::of(black_box(&round.holes), Baseline::tour(), None));
    });
    let line = demo.lines.iter().find(|line| matches!(line, Line::Round(_))).unwrap().to_json();
    criterion.bench_function("a round's line read and checked", |bencher| {
        bencher.iter(|| Line::read(black_box(line.as_bytes())));
    });
}

criterion_group!(all, benches);
criterion_main!(all);
