use super::super::PuttReading;
use super::super::simulated::{putt, round};
use super::*;

fn member(n: u128) -> MemberId {
    MemberId(Uuid::from_u128(n))
}

fn setup(n: u128) -> SetupId {
    SetupId(Uuid::from_u128(100 + n))
}

/// A round on a set-up that plays putts inside 20 ft at an eighth of their line.
fn softened(seq: i64, of: u128, on: u128) -> Taken {
    let putts = (0..18).map(|n| {
        let distance = 2.0 + 2.0 * n as f64;
        let line = [0.8, -1.3, 0.4, -0.6, 1.7][(n + seq as usize) % 5];
        let played = if distance <= 20.0 { line / 8.0 } else { line };
        PuttReading { start_line_deg: Some(line), played_line_deg: Some(played), ..putt(distance) }
    });
    let readings = RoundReadings { received: seq as u64, ..round(putts.collect()) };
    Taken { seq, member: member(of), setup: Some(setup(on)), readings }
}

const BUDGET: Budget = Budget { field_size: 200, false_alarm_pct: 5.0 };

#[test]
fn readings_stay_as_long_as_rounds_on_a_set_up_are_few() {
    let few = i64::from(FEW_ROUNDS) - 1;
    let rounds: Vec<Taken> = (1..=few).flat_map(|seq| [softened(2 * seq, 1, 0), softened(2 * seq + 1, 1, 1)]).collect();
    let whose = |on: u128| (member(1), Some(setup(on)));
    let mut ledger = Ledger::default().with(&rounds);
    let readings = |ledger: &Ledger, on: u128| ledger.few.get(&whose(on)).map(Vec::len);
    assert_eq!([0, 1].map(|on| readings(&ledger, on)), [Some(few as usize); 2]);
    ledger.take(&softened(100, 1, 1));
    assert_eq!([0, 1].map(|on| readings(&ledger, on)), [Some(few as usize), None]);
    ledger.forget(member(1));
    assert_eq!(ledger, Ledger::default());
}

#[test]
fn taking_a_member_out_and_in_again_changes_nothing() {
    let rounds: Vec<Taken> = (1..20).map(|seq| softened(seq, seq as u128 % 3, seq as u128 % 2)).collect();
    let restarts = Restarts::from([
        (("softened_line", About::Player(member(1))), vec![6]),
        (("softened_line", About::Setup(setup(0))), vec![4, 9]),
    ]);
    let full = Ledger::new(restarts, BTreeSet::new()).with(&rounds);
    let mut mended = full.clone();
    mended.forget(member(1));
    assert!(mended.rows.keys().all(|key| key.member != member(1)));
    rounds.iter().filter(|round| round.member == member(1)).for_each(|round| mended.take(round));
    assert_eq!(mended, full);
}

fn of(restarts: Restarts, rounds: &[Taken]) -> Ledger {
    Ledger::new(restarts, BTreeSet::new()).with(rounds)
}

fn honest(seq: i64, of: u128, on: u128) -> Taken {
    let mut round = softened(seq, of, on);
    round.readings.putts.iter_mut().for_each(|putt| putt.played_line_deg = putt.start_line_deg);
    round
}

/// Names the findings of a season whose rounds come in one after the other.
fn opened(rounds: &[Taken]) -> Vec<(&'static str, About, usize)> {
    let (_, openings) = crossed(Ledger::default(), rounds, BUDGET);
    let named = openings.into_iter().map(|opening| (opening.crossing.kind.name, opening.crossing.about, opening.round));
    named.collect()
}

const LINE: &str = "softened_line";

#[test]
fn a_softened_set_up_has_a_finding_and_its_players_have_none() {
    // two players, one set-up
    let rounds: Vec<Taken> = (1..=6).map(|seq| softened(seq, seq as u128 % 2, 0)).collect();
    let found = opened(&rounds);
    assert!(found.iter().any(|(kind, about, _)| (*kind, *about) == (LINE, About::Setup(setup(0)))), "{found:?}");
    assert!(found.iter().all(|(_, about, _)| about.subject() == Subject::Setup), "{found:?}");
    // and one player alone with a set-up
    let found = opened(&(1..=6).map(|seq| softened(seq, 0, 0)).collect::<Vec<_>>());
    assert!(found.iter().any(|(kind, about, _)| (*kind, *about) == (LINE, About::Setup(setup(0)))), "{found:?}");
    assert!(found.iter().all(|(_, about, _)| about.subject() == Subject::Setup), "{found:?}");
}

#[test]
fn whoever_plays_softened_rounds_where_others_play_honest_ones_has_a_finding() {
    let personal = |rounds: &[Taken]| {
        let found = opened(rounds);
        found.into_iter().any(|(kind, about, _)| (kind, about) == (LINE, About::Player(member(0))))
    };
    let round = |seq: i64| {
        let on = seq as u128 % 3;
        if seq % 5 == 0 { softened(seq, 0, on) } else { honest(seq, 1 + seq as u128 % 4, on) }
    };
    assert!(personal(&(1..=60).map(round).collect::<Vec<_>>()));
    // Nor does a set-up explain rounds that name none.
    let nowhere = (1..=6).map(|seq| Taken { setup: None, ..softened(seq, 0, 0) });
    assert!(personal(&nowhere.collect::<Vec<_>>()));
}

/// Says which set-ups have a finding about lines; nobody has any.
fn soft(rounds: &[Taken]) -> BTreeSet<About> {
    let found = opened(rounds);
    assert!(found.iter().all(|(_, about, _)| about.subject() == Subject::Setup), "{found:?}");
    found.into_iter().filter(|(kind, ..)| *kind == LINE).map(|(_, about, _)| about).collect()
}

#[test]
fn several_soft_bays_are_found_and_nobody_who_putts_there_is() {
    // Twelve players, another of six bays every week; the first three bays are soft.
    let rounds: Vec<Taken> = (1..=240)
        .map(|seq| {
            let (week, player) = (seq as u128 / 12, seq as u128 % 12);
            let bay = (player + week) % 6;
            if bay < 3 { softened(seq, player, bay) } else { honest(seq, player, bay) }
        })
        .collect();
    assert_eq!(soft(&rounds), BTreeSet::from([0, 1, 2].map(|bay| About::Setup(setup(bay)))));
}

#[test]
fn whoever_is_soft_at_home_and_fair_in_the_centre_has_a_finding_about_the_home_alone() {
    let round = |seq: i64| match seq % 6 {
        0 => softened(seq, 0, 9),
        3 => honest(seq, 0, 1),
        n => honest(seq, n as u128, 1),
    };
    assert_eq!(soft(&(1..=90).map(round).collect::<Vec<_>>()), BTreeSet::from([About::Setup(setup(9))]));
}

#[test]
fn a_bay_that_was_ruled_to_need_no_action_still_comes_before_its_players() {
    let rounds: Vec<Taken> = (1..=40).map(|seq| softened(seq, seq as u128 % 4, seq as u128 % 2)).collect();
    // Both bays had a finding, and the ruling came with the last round: their evidence begins with nothing.
    let bays = [0, 1].map(setup);
    let restarts = Restarts::from(bays.map(|bay| ((LINE, About::Setup(bay)), vec![40])));
    let begun = Ledger::new(restarts, bays.into());
    let kind = super::super::kind(LINE).unwrap();
    let (mut ledger, openings) = crossed(begun, &rounds, BUDGET);
    assert!(ledger.over_all_rounds(kind, member(1), 0).log10 > 6.0);
    assert_eq!(ledger.evidence(kind, About::Setup(setup(0))).rounds, 0);
    assert_eq!(ledger.evidence(kind, About::Player(member(1))).log10, 0.0);
    let later = ledger.crossings_around(member(1), BUDGET);
    let mut found = openings.iter().map(|opening| &opening.crossing).chain(&later);
    assert!(found.all(|crossing| crossing.about.subject() == Subject::Setup && crossing.kind.name != LINE));
}

#[test]
fn softened_rounds_on_one_set_up_are_no_finding_about_a_player() {
    // Others play honestly there, which keeps the set-up below any threshold; the player does so elsewhere.
    let round = |seq: i64| match seq % 8 {
        0 => softened(seq, 0, 0),
        1 => honest(seq, 0, 1),
        _ => honest(seq, 1 + seq as u128 % 6, 0),
    };
    let rounds: Vec<Taken> = (1..=64).map(round).collect();
    let kind = super::super::kind(LINE).unwrap();
    let ledger = of(Restarts::new(), &rounds);
    let threshold = threshold_log10(BUDGET.field_size, BUDGET.false_alarm_pct, 0);
    assert!(ledger.over_all_rounds(kind, member(0), 0).log10 > threshold);
    assert!(ledger.evidence(kind, About::Setup(setup(0))).log10 < threshold);
    assert!(ledger.evidence(kind, About::Player(member(0))).log10 < threshold);
    let found = opened(&rounds);
    assert!(found.iter().all(|(_, about, _)| about.subject() == Subject::Setup), "{found:?}");
}

#[test]
fn evidence_about_a_player_leaves_out_set_ups_with_any_finding_of_the_cause_and_one_more() {
    let kind = super::super::kind(LINE).unwrap();
    let own: Vec<Taken> =
        (1..=12).map(|seq| if seq % 4 == 0 { honest(seq, 0, 4) } else { softened(seq, 0, seq as u128 % 4) }).collect();
    // Honest rounds of others keep each set-up below the player.
    let others: Vec<Taken> = (13..=72).map(|seq| honest(seq, seq as u128, seq as u128 % 4)).collect();
    let mut ledger = of(Restarts::new(), &own).with(&others);
    let over = |on: &[u128]| {
        let rounds: Vec<Taken> =
            own.iter().filter(|round| on.iter().any(|n| round.setup == Some(setup(*n)))).cloned().collect();
        of(Restarts::new(), &rounds).over_all_rounds(kind, member(0), 0)
    };
    let least = |sets: &[&[u128]]| sets.iter().map(|on| over(on).log10).fold(f64::INFINITY, f64::min);
    let log10 = |ledger: &Ledger| ledger.evidence(kind, About::Player(member(0))).log10;
    for on in 1..4 {
        let of_setup = ledger.evidence(kind, About::Setup(setup(on))).log10;
        assert!(of_setup < over(&[1, 2, 3, 4]).log10, "{on}: {of_setup}");
    }
    assert_eq!(log10(&ledger), least(&[&[1, 2, 3, 4], &[2, 3, 4], &[1, 3, 4], &[1, 2, 4], &[1, 2, 3]]));
    assert!(log10(&ledger) > 0.0);
    ledger.found.insert(setup(1));
    assert_eq!(log10(&ledger), least(&[&[1, 2, 3, 4], &[2, 3, 4], &[3, 4], &[2, 4], &[2, 3]]));
    ledger.found.extend([2, 3, 4].map(setup));
    let left = ledger.evidence(kind, About::Player(member(0)));
    assert_eq!((left.log10, left.rounds), (0.0, 0));
}

#[test]
fn a_kind_that_is_no_set_ups_doing_reads_all_rounds() {
    let kind = super::super::kind("chosen_records").unwrap();
    let rounds: Vec<Taken> = (1..=6).map(|seq| softened(seq, 0, 0)).collect();
    let mut ledger = of(Restarts::new(), &rounds);
    let before = ledger.evidence(kind, About::Player(member(0)));
    ledger.found.insert(setup(0));
    assert_eq!(ledger.evidence(kind, About::Player(member(0))), before);
}

#[test]
fn a_set_up_begins_anew_after_a_ruling() {
    let rounds: Vec<Taken> = (1..=6).map(|seq| softened(seq, seq as u128 % 2, 0)).collect();
    let kind = super::super::kind(LINE).unwrap();
    let before = of(Restarts::new(), &rounds).evidence(kind, About::Setup(setup(0)));
    // ruled after the fifth round: one round is left to speak, against twice the threshold
    let restarts = Restarts::from([((LINE, About::Setup(setup(0))), vec![5])]);
    let later = of(restarts, &rounds);
    let after = later.evidence(kind, About::Setup(setup(0)));
    assert_eq!((before.rounds, after.rounds), (6, 1));
    assert!(after.log10 < before.log10);
    assert!(later.over_all_rounds(kind, member(0), 0).rounds == 3, "the players' own evidence goes on");
}

#[test]
fn evidence_since_a_ruling_is_that_of_the_rounds_after_it() {
    let rounds: Vec<Taken> = (1..=6).map(|seq| softened(seq, seq as u128 % 2, 0)).collect();
    let kind = super::super::kind(LINE).unwrap();
    for about in [About::Player(member(0)), About::Setup(setup(0))] {
        let ruled = of(Restarts::from([((kind.name, about), vec![3])]), &rounds);
        assert_eq!(ruled.evidence(kind, about), of(Restarts::new(), &rounds[3..]).evidence(kind, about));
    }
}

#[test]
fn a_round_on_no_set_up_speaks_of_its_player_alone() {
    let nowhere = Taken { setup: None, ..softened(1, 0, 0) };
    let ledger = of(Restarts::new(), &[nowhere]);
    assert!(ledger.digests.is_empty());
    assert_eq!(ledger.rows.len(), KINDS.len());
}
