//! The demo league as a whole: it fits the rules of bundles, repeats itself, and plays like people.

use super::equipment::Equipment;
use super::*;
use crate::domain::facts::{EventState, Outcome, PuttResult};
use crate::domain::season::RoundState;
use crate::domain::season::overview::{Asked, Overview, overview};
use crate::wire::bundle::assemble::Assembler;
use crate::wire::bundle::ids::OfEvent;
use crate::wire::bundle::line::{CameIn, DeclaredRound};
use jiff::civil::date;
use std::collections::{BTreeMap, HashSet};

const TODAY: Date = date(2027, 1, 14);

fn made(seed: u64, players: usize, events: usize) -> DemoLeague {
    league(&DemoTerms { seed, players, events, today: TODAY })
}

fn assembled(lines: impl IntoIterator<Item = Line>) -> Assembler {
    let mut assembler = Assembler::default();
    for (n, line) in lines.into_iter().enumerate() {
        let text = line.to_json();
        if let Err(faults) = assembler.add(line) {
            panic!("line {}: {faults:?}\n{text}", n + 1);
        }
    }
    assembler.finish().unwrap();
    assembler
}

fn shown(league: &DemoLeague) -> Overview {
    let Assembler { book, mut entries, putts, facts, .. } = assembled(league.lines.clone());
    overview(&book, &mut entries, &putts, &facts, Asked { weighs_evidence: false, ..Asked::now(league.season) })
}

fn bytes(lines: &[Line]) -> String {
    lines.iter().map(|line| line.to_json() + "\n").collect()
}

fn received(line: &Line) -> (i64, Timestamp) {
    let received = match line {
        Line::League(line) => &line.received,
        Line::Member(line) => &line.received,
        Line::Setup(line) => &line.received,
        Line::Course(line) => &line.received,
        Line::Season(line) => &line.received,
        Line::Event(line) => &line.received,
        Line::Competition(line) => &line.received,
        Line::Round(line) => &line.received,
        Line::Attestation(line) => &line.received,
        Line::Withdrawal(line) => &line.received,
        other => panic!("the demo has no such line: {}", other.to_json()),
    };
    (received.seq.unwrap(), received.received_at.unwrap())
}

#[test]
fn every_size_fits_the_rules_of_bundles() {
    for (players, events) in [(2, 1), (2, 52), (3, 4), (24, 10), (60, 20), (500, 1)] {
        for seed in [0, 1, u64::MAX] {
            assembled(made(seed, players, events).lines);
        }
    }
}

#[test]
fn terms_outside_their_limits_are_drawn_in() {
    assert_eq!(made(1, 0, 0).lines, made(1, 2, 1).lines);
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_seed_others() {
    assert_eq!(bytes(&made(5, 24, 10).lines), bytes(&made(5, 24, 10).lines));
    assert_ne!(bytes(&made(5, 24, 10).lines), bytes(&made(6, 24, 10).lines));
}

#[test]
fn every_line_reads_back_as_it_was_written() {
    for line in made(1, 24, 10).lines {
        let text = line.to_json();
        assert_eq!(Line::read(text.as_bytes()).as_ref(), Ok(&line), "{text}");
    }
}

#[test]
fn kinds_stand_in_order_and_numbers_follow_time() {
    let lines = made(1, 24, 10).lines;
    let kinds: Vec<String> =
        lines.iter().map(|line| serde_json::to_value(line).unwrap()["kind"].as_str().unwrap().to_owned()).collect();
    let order =
        ["league", "member", "setup", "course", "season", "event", "competition", "round", "attestation", "withdrawal"];
    let mut runs = kinds.clone();
    runs.dedup();
    assert_eq!(runs, order);
    let mut all: Vec<(i64, Timestamp)> = lines.iter().map(received).collect();
    for kind in order {
        let of_kind: Vec<i64> = kinds.iter().zip(&all).filter(|(k, _)| *k == kind).map(|(_, (seq, _))| *seq).collect();
        assert!(of_kind.is_sorted(), "{kind}");
    }
    all.sort_unstable();
    assert!(all.iter().map(|(seq, _)| *seq).eq(1..=all.len() as i64), "numbers run from 1 without a gap");
    assert!(all.is_sorted_by_key(|(_, at)| *at), "a later number came in no earlier");
    let midnight = calendar::instant(&calendar::zone(), TODAY, Time::midnight());
    assert!(all.iter().all(|(_, at)| *at < midnight), "nothing came in after the present began");
}

#[test]
fn no_id_is_used_twice() {
    let mut seen = HashSet::new();
    for line in made(1, 60, 20).lines {
        let line = serde_json::to_value(&line).unwrap();
        for id in [line.get("id"), line.get("client_round_id")].into_iter().flatten() {
            assert!(seen.insert(id.clone()), "{id}");
        }
    }
}

#[test]
fn the_last_night_is_open_with_half_of_the_field_in_and_the_player_out() {
    for (players, in_hand) in [(2, 1), (24, 12), (60, 30)] {
        let league = made(1, players, 10);
        let assembler = assembled(league.lines.clone());
        let noon = calendar::instant(&calendar::zone(), TODAY, Time::constant(12, 0, 0, 0));
        let open: Vec<EventId> = assembler
            .book
            .nights
            .values()
            .filter(|night| night.event.state_at(noon) == EventState::Open)
            .map(|night| night.id)
            .collect();
        assert_eq!(open, [league.open_event]);
        let handed_in: Vec<MemberId> = assembler
            .entries
            .iter()
            .filter(|entry| entry.event == league.open_event)
            .map(|entry| entry.member)
            .collect();
        assert_eq!(handed_in.len(), in_hand);
        assert!(handed_in.contains(&league.organizer) && !handed_in.contains(&league.player));
    }
}

#[test]
fn the_next_round_could_be_handed_in_on_the_players_own_set_up() {
    let mut league = made(1, 24, 10);
    assert_eq!(league.next_round.setup_id, Some(league.player_setup));
    let round = round_line(league.open_event, &league.next_round);
    let last = league.lines.iter().rposition(|line| matches!(line, Line::Round(_))).unwrap();
    league.lines.insert(last + 1, round);
    assembled(league.lines.clone());
    let owned = league.lines.iter().any(|line| {
        matches!(line, Line::Setup(line) if line.ids.id == league.player_setup
            && line.ids.member_id == Some(league.player))
    });
    assert!(owned, "the player owns the set-up");
}

fn round_line(event: EventId, round: &Round) -> Line {
    let ids = OfEvent { id: Uuid::nil().into(), event_id: event };
    let body = DeclaredRound { came_in: CameIn::default(), round: round.clone() };
    Line::Round(Box::new(sent(ids, body, Received::default())))
}

#[test]
fn a_season_has_its_odd_cards() {
    let assembler = assembled(made(1, 24, 10).lines);
    let count = |state| assembler.entries.iter().filter(|entry| entry.state == state).count();
    assert_eq!(count(RoundState::Withdrawn), 1);
    let attested = count(RoundState::Attested) as f64 / assembler.entries.len() as f64;
    assert!((0.25..0.55).contains(&attested), "{attested}");
    let withdrawn = assembler.entries.iter().find(|entry| entry.state == RoundState::Withdrawn).unwrap();
    let same =
        |entry: &&crate::domain::season::Entry| (entry.event, entry.member) == (withdrawn.event, withdrawn.member);
    assert_eq!(assembler.entries.iter().filter(same).count(), 2);
    let no_returns = assembler.entries.iter().filter(|entry| entry.card.outcome == Outcome::NoReturn);
    assert_eq!(no_returns.map(|entry| entry.card.holes_played()).collect::<Vec<_>>(), [12]);
}

#[test]
fn both_flights_are_ranked_as_the_people_are() {
    for seed in 1..5 {
        let league = made(seed, 24, 10);
        let ground = Groundwork::lay(seed, 24, 10, TODAY);
        let mut ranked: BTreeMap<String, usize> = BTreeMap::new();
        for row in shown(&league).standings {
            let person = ground.people.iter().find(|person| person.id == row.member_id).unwrap();
            assert_eq!(row.flight.as_deref(), Some(person.flight()));
            *ranked.entry(row.flight.unwrap()).or_default() += usize::from(row.position.is_some());
        }
        assert_eq!(ranked.len(), 2);
        assert!(ranked.values().all(|ranked| *ranked >= 6), "{ranked:?}");
    }
}

/// Rows of a report with the skill behind them: skill, strokes gained putting, mean differential, league index.
fn rows() -> Vec<[f64; 4]> {
    let mut rows = Vec::new();
    for seed in 1..=4 {
        let ground = Groundwork::lay(seed, 60, 20, TODAY);
        let show = shown(&made(seed, 60, 20));
        for putting in &show.putting {
            let person = ground.people.iter().find(|person| person.id == putting.member_id).unwrap();
            let handicap = show.handicaps.iter().find(|row| row.member_id == putting.member_id).unwrap();
            let values = handicap.differentials.iter().map(|row| f64::from(row.value.0) / 10.0);
            let mean = values.sum::<f64>() / handicap.differentials.len() as f64;
            let index = f64::from(handicap.league_index.unwrap().0) / 10.0;
            rows.push([person.skill, putting.strokes_gained_per_round.unwrap(), mean, index]);
        }
    }
    rows
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0.0), |(sum, n), value| (sum + value, n + 1.0));
    sum / n
}

/// The ranges are evenfield's estimates of what amateurs of these indexes lose; wide, for the draws of four seeds.
#[test]
fn weaker_players_lose_more_on_the_greens_and_come_out_near_their_index() {
    let rows = rows();
    let tiers = [(-3.0, 6.0, -1.2, 0.3), (6.0, 18.0, -2.6, -0.6), (18.0, 31.0, -4.2, -1.6)];
    for (from, to, low, high) in tiers {
        let tier = || rows.iter().filter(move |[skill, ..]| (from..to).contains(skill));
        let gained = mean(tier().map(|row| row[1]));
        assert!((low..high).contains(&gained), "skill {from} to {to}: {gained} strokes a round");
        let above = mean(tier().map(|row| row[2] - row[0]));
        assert!((1.0..6.5).contains(&above), "skill {from} to {to}: differentials {above} above the skill");
        let off = mean(tier().map(|row| row[3] - row[0]));
        assert!(off.abs() < 2.0, "skill {from} to {to}: the index is {off} off the skill");
    }
    let field = mean(rows.iter().filter(|row| row[0] > 2.0).map(|row| row[1]));
    assert!((-4.0..-0.5).contains(&field), "{field}");
}

#[test]
fn putts_drop_less_often_from_farther_and_less_than_the_tours() {
    let mut bands: BTreeMap<u32, [f64; 3]> = BTreeMap::new();
    for row in shown(&made(1, 60, 20)).putting {
        for band in row.bands {
            let sums = bands.entry(band.from_ft as u32).or_default();
            sums[0] += f64::from(band.putts);
            sums[1] += f64::from(band.made);
            sums[2] += band.expected_made;
        }
    }
    let rates: Vec<(f64, f64)> = bands.values().map(|[putts, made, tour]| (made / putts, tour / putts)).collect();
    assert_eq!(rates.len(), 9);
    for pair in rates.windows(2) {
        assert!(pair[1].0 < pair[0].0, "{rates:?}");
    }
    for (made, tour) in &rates {
        // 0.01: the draws of the farthest band
        assert!(*made < tour + 0.01 && *made > 0.6 * tour - 0.01, "{rates:?}");
    }
}

#[test]
fn recorded_putts_agree_with_each_other() {
    let (mut played, mut measured, mut conceded) = (0, 0, 0);
    let ground = Groundwork::lay(1, 24, 10, TODAY);
    let softens = |known: &&Equipment| known.measuring.softening.is_some();
    let soft: Vec<SetupId> = ground.equipment.iter().filter(softens).map(|known| known.id).collect();
    assert_eq!(soft.len(), 1);
    for line in made(1, 24, 10).lines {
        let Line::Round(line) = line else { continue };
        if line.body.round.setup_id.is_none_or(|setup| soft.contains(&setup)) {
            continue;
        }
        for putt in line.body.round.holes.iter().filter_map(|hole| hole.putts.as_ref()).flatten() {
            conceded += usize::from(putt.result == PuttResult::Conceded);
            let Some(start) = putt.start_line_deg else { continue };
            measured += 1;
            let Some(line) = putt.played_line_deg else { continue };
            played += 1;
            // two roundings to a tenth, and the noise between the two copies
            assert!((start.get() - line.get()).abs() < 0.21, "an honest set-up plays what it measured: {putt:?}");
        }
    }
    assert!(conceded > 500 && played > 1000 && measured > played, "{conceded} {played} {measured}");
}

#[test]
fn a_big_bundle_has_its_rounds_and_fits_the_rules() {
    for (rounds, members) in [(1, 2), (59, 3), (3000, 100)] {
        let mut out = Vec::new();
        big_bundle(3, rounds, &mut out).unwrap();
        let lines: Vec<Line> =
            out.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()).map(|l| Line::read(l).unwrap()).collect();
        let received: Vec<(i64, Timestamp)> = lines.iter().map(received).collect();
        assert!(received.iter().map(|(seq, _)| *seq).eq(1..=lines.len() as i64));
        let in_time: Vec<Timestamp> =
            lines.iter().zip(received).filter(|(l, _)| matches!(l, Line::Round(_))).map(|(_, (_, at))| at).collect();
        assert!(in_time.is_sorted());
        let assembler = assembled(lines);
        assert_eq!((assembler.entries.len(), assembler.book.members.len()), (rounds, members));
    }
}

/// What is planted is found, each once, by the kind that is made for it; nobody is accused for the bay.
#[test]
fn the_evidence_finds_what_is_planted_and_nothing_else() {
    use crate::domain::audit::ledger::About;
    for seed in [1, 2, 7] {
        let ground = Groundwork::lay(seed, 24, 10, TODAY);
        let softens = |known: &&Equipment| known.measuring.softening.is_some();
        let soft = ground.equipment.iter().find(softens).unwrap().id;
        let misreads = ground.equipment.iter().find(|known| known.measuring.misreads > 0.0).unwrap().id;
        let league = made(seed, 24, 10);
        let Assembler { book, mut entries, putts, facts, .. } = assembled(league.lines.clone());
        let found = overview(&book, &mut entries, &putts, &facts, Asked::now(league.season)).findings;
        let mut found: Vec<(&str, About)> = found.iter().map(|finding| (finding.kind, finding.subject)).collect();
        found.sort_unstable();
        let due = [
            ("chosen_records", About::Player(ground.people[people::CHOOSER].id)),
            ("sensor_misread", About::Setup(misreads)),
            ("softened_line", About::Setup(soft)),
        ];
        assert_eq!(found, due, "seed {seed}");
    }
}
