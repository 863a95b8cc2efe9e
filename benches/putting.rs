//! Speed of the putting calculations.

#[path = "../tests/support/simulated/mod.rs"]
mod simulated;

use criterion::{Criterion, criterion_group, criterion_main};
use evenfield::domain::ids::{EventId, MemberId};
use evenfield::domain::putting::PuttResult;
use evenfield::domain::putting::baseline::Baseline;
use evenfield::domain::putting::capture::capture;
use evenfield::domain::putting::field::{Field, PlainHole};
use evenfield::domain::putting::gained;
use evenfield::domain::putting::make::{Scatter, make};
use evenfield::domain::putting::read::{Section, read};
use evenfield::domain::putting::report::{PuttedRound, PuttingReport};
use evenfield::domain::season::putting::{PuttsMet, plain};
use evenfield::domain::units::{Degrees, Feet, Inches, Mph, OutOfRange, Overrun, SlopePct, Stimp};
use std::hint::black_box;

fn putting(criterion: &mut Criterion) {
    bench(criterion).expect("every value of the benches is in range");
}

fn bench(criterion: &mut Criterion) -> Result<(), OutOfRange> {
    let mut group = criterion.benchmark_group("putting");
    let tour = Baseline::tour();
    let (level, stimp) = (Inches::new(0.0)?, Stimp::new(10.0)?);

    // many distances in no order, as putts come: one distance alone would flatter the branch predictor
    let distances =
        (0..1024).map(|i| Feet::new(0.3 + f64::from(i * 389 % 1024) / 12.0)).collect::<Result<Vec<_>, _>>()?;
    let mut next = 0;
    let mut distance = move || {
        next = (next + 1) % distances.len();
        distances[next]
    };

    group.bench_function("expected_putts", |b| b.iter(|| tour.expected_putts(black_box(distance()))));

    let tap_in = Feet::new(2.5)?;
    group.bench_function("gained, a hole of two putts", |b| {
        b.iter(|| gained::hole(&[(black_box(distance()), PuttResult::Missed), (tap_in, PuttResult::Holed)], tour))
    });

    let (line, speed) = (Degrees::new(0.4)?, Mph::new(7.0)?);
    group.bench_function("capture", |b| {
        b.iter(|| capture(black_box(line), distance(), black_box(speed), black_box(stimp), black_box(level)))
    });

    let past = Overrun::new(12.0)?;
    let section = |side, up| -> Result<Section, OutOfRange> {
        Ok(Section { length: Feet::new(10.0)?, side_slope: SlopePct::new(side)?, up_slope: SlopePct::new(up)? })
    };
    let sections = [section(2.0, 0.0)?, section(-2.0, 1.0)?];
    let twenty = Feet::new(20.0)?;
    group.bench_function("read, two sections", |b| b.iter(|| read(twenty, stimp, black_box(&sections), past)));

    let scatter = Scatter::tour();
    group.bench_function("make", |b| b.iter(|| make(black_box(distance()), &scatter, stimp)));

    let rounds = rounds_of(1_000)?;
    let member = MemberId(uuid::Uuid::from_u128(1));
    group.bench_function("player's report, 1,000 putts", |b| {
        b.iter(|| PuttingReport::of(member, black_box(&rounds), tour))
    });

    let plain: Vec<Vec<PlainHole>> = rounds_of(10_000)?
        .iter()
        .map(|round| plain(&PuttsMet { by_hole: round.by_hole.clone(), ..PuttsMet::default() }))
        .collect();
    group.bench_function("field's baseline, 10,000 putts", |b| b.iter(|| Field::of(black_box(&plain).clone())));
    group.finish();
    Ok(())
}

/// A simulated player's rounds of 18 holes, all on one set-up and one green.
fn rounds_of(putts: usize) -> Result<Vec<PuttedRound>, OutOfRange> {
    let player = simulated::Player { stimps_ft: (10.5, 0.0), ..simulated::players()[0].1 };
    let (struck, _) = player.play(putts, &mut simulated::Random(1))?;
    let holes: Vec<Vec<_>> = struck
        .split_inclusive(|putt| putt.leave_ft.is_none())
        .map(|hole| hole.iter().map(|putt| putt.putt).collect())
        .collect();
    let round = |by_hole: &[Vec<_>]| {
        Ok(PuttedRound {
            event: EventId(uuid::Uuid::nil()),
            date: jiff::civil::date(2027, 1, 14),
            setup: Some(simulated::SETUP),
            stimp: Stimp::new(10.5)?,
            holes: by_hole.len() as u32,
            recorded_holes: by_hole.len() as u32,
            putts: Some(by_hole.iter().map(Vec::len).sum::<usize>() as u32),
            by_hole: by_hole.to_vec(),
            numbers: Vec::new(),
            left_out: None,
        })
    };
    holes.chunks(18).map(round).collect()
}

criterion_group!(benches, putting);
criterion_main!(benches);
