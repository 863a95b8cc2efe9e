//! Whatever the putts are: a report has the shape that it declares, and agrees with the sums that standings rest on.

#![expect(clippy::unwrap_used, reason = "a test's own values are in range, or it fails")]

use crate::support::simulated::advised::contradiction;
use evenfield::domain::facts::{CardHole, Practice, PractisedPutt, Putt, PuttResult};
use evenfield::domain::ids::{EventId, MemberId, SetupId};
use evenfield::domain::putting::PuttingTotals;
use evenfield::domain::putting::advice::Certainty;
use evenfield::domain::putting::baseline::Baseline;
use evenfield::domain::putting::compact::CompactPutts;
use evenfield::domain::putting::field::Field;
use evenfield::domain::putting::report::{PuttedRound, PuttingReport};
use evenfield::domain::putting::sums::{band_of, per_round};
use evenfield::domain::season::putting::{PuttsMet, plain};
use evenfield::domain::units::{Degrees, Feet, HoleNumber, Inches, Mph, Stimp};
use evenfield::wire::body::{practice, putting};
use evenfield::wire::json::Node;
use evenfield::wire::schema::Schema;
use jiff::civil::date;
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use uuid::Uuid;

const MEMBER: MemberId = MemberId(Uuid::from_u128(7));

/// A usual value, or one at the ends of what is legal: a report must bear both.
fn within(least: f64, most: f64, usual: std::ops::Range<f64>) -> impl Strategy<Value = f64> {
    prop_oneof![6 => usual, 1 => least..=most, 1 => Just(least), 1 => Just(most)]
}

prop_compose! {
    fn putt()(
        d in within(1e-9, 200.0, 2.0..30.0), h in option::of(within(-240.0, 240.0, -6.0..6.0)),
        v in option::weighted(0.9, within(1e-9, 40.0, 2.0..8.0)),
        line in option::weighted(0.9, within(-45.0, 45.0, -3.0..3.0)), played in option::of(-45.0..45.0f64),
    ) -> Putt {
        Putt {
            distance_ft: Feet::new(d).unwrap(),
            elevation_in: h.map(|h| Inches::new(h).unwrap()),
            ball_speed_mph: v.map(|v| Mph::new(v).unwrap()),
            start_line_deg: line.map(|line| Degrees::new(line).unwrap()),
            played_line_deg: played.map(|line| Degrees::new(line).unwrap()),
            result: PuttResult::Missed,
        }
    }
}

/// Holes of a card: one picked up, one conceded, the others holed out.
fn holes() -> impl Strategy<Value = Vec<CardHole>> {
    vec(vec(putt(), 0..5), 0..18).prop_map(|holes| {
        let hole = |(n, mut putts): (usize, Vec<Putt>)| {
            if let Some(last) = putts.last_mut() {
                let ends = [PuttResult::Holed, PuttResult::Missed, PuttResult::Conceded];
                last.result = *ends.get(n).unwrap_or(&PuttResult::Holed);
            }
            let (strokes, putts) = (None, Some(putts));
            let number = HoleNumber::new(n as i64 + 1).unwrap();
            CardHole { number, strokes, picked_up: true, not_played: false, putts, putt_count: None }
        };
        holes.into_iter().enumerate().map(hole).collect()
    })
}

fn round(holes: &[CardHole], stimp: f64, setup: u128) -> PuttedRound {
    PuttedRound {
        event: EventId(Uuid::nil()),
        date: date(2027, 1, 14),
        setup: (setup > 0).then_some(SetupId(Uuid::from_u128(setup))),
        stimp: Stimp::new(stimp).unwrap(),
        holes: holes.len() as u32,
        recorded_holes: holes.len() as u32,
        putts: holes.iter().map(CardHole::putts_taken).sum(),
        by_hole: CompactPutts::of(holes).by_hole(),
        numbers: Vec::new(),
        left_out: None,
    }
}

/// JSON has no NaN: a number that is none would be written as null, which the shape refuses where it is not allowed.
fn faults(report: &impl serde::Serialize, shape: &Schema) -> Vec<String> {
    let text = serde_json::to_string(report).unwrap();
    let found = shape.check(&Node::parse(text.as_bytes()).unwrap());
    found.into_iter().map(|fault| format!("{}: {} in {text}", fault.pointer, fault.detail)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn a_report_of_any_putts_has_its_shape(cards in vec((holes(), 4.0..=16.0f64, 0..3u128), 0..4)) {
        let rounds: Vec<PuttedRound> = cards.iter().map(|(holes, stimp, setup)| round(holes, *stimp, *setup)).collect();
        let report = PuttingReport::of(MEMBER, &rounds, Baseline::tour());
        prop_assert_eq!(faults(&report, &putting::report()), Vec::<String>::new());
        prop_assert_eq!(contradiction(&report), None);

        let totals: Vec<_> =
            cards.iter().map(|(holes, ..)| PuttingTotals::of(holes, Baseline::tour(), None)).collect();
        let (all, recorded) =
            totals.iter().fold((0, 0), |(all, recorded), one| (all + one.holes, recorded + one.recorded_holes));
        let gains = totals.iter().map(|one| one.gains).sum();
        prop_assert_eq!(report.strokes_gained_per_round, per_round(gains, recorded));
        prop_assert_eq!((report.holes, report.recorded_holes), (all, recorded));
        let putts: Vec<Putt> =
            cards.iter().flat_map(|(holes, ..)| holes).filter_map(|hole| hole.putts.clone()).flatten().collect();
        let count = |is: &dyn Fn(&Putt) -> bool| putts.iter().filter(|putt| is(putt)).count() as u32;
        let is_conceded = |putt: &Putt| putt.result == PuttResult::Conceded;
        prop_assert_eq!(report.conceded.putts, count(&is_conceded));
        for (band, found) in (0..).zip(&report.bands) {
            let is_struck = |putt: &Putt| !is_conceded(putt) && band_of(putt.distance_ft) == band;
            let is_made = |putt: &Putt| is_struck(putt) && putt.result == PuttResult::Holed;
            prop_assert_eq!((found.putts, found.made), (count(&is_struck), count(&is_made)));
        }

        let field = Field::of(rounds.iter().map(|round| plain(&PuttsMet { by_hole: round.by_hole.clone(), ..PuttsMet::default() })));
        let against = PuttingReport::of(MEMBER, &rounds, &field.baseline);
        prop_assert_eq!(faults(&against, &putting::report()), Vec::<String>::new());
        // what was measured is the same against any yardstick
        prop_assert_eq!(against.player.start_line, report.player.start_line);
        prop_assert_eq!(against.player.pace, report.player.pace);
        prop_assert_eq!(against.player.setups, report.player.setups);
    }

    #[test]
    fn a_report_of_any_practice_has_its_shape(
        putts in vec((putt(), option::of(within(1e-9, 200.0, 0.5..4.0)), any::<bool>()), 0..80), stimp in 4.0..=16.0f64,
    ) {
        let putts = putts.into_iter().map(|(mut putt, leave, is_holed)| {
            if is_holed {
                putt.result = PuttResult::Holed;
            }
            let leave_ft = leave.filter(|_| !is_holed).map(|leave| Feet::new(leave).unwrap());
            PractisedPutt { putt, leave_ft }
        });
        let block = Practice {
            setup_id: Some(SetupId(Uuid::from_u128(1))),
            played_on: date(2027, 1, 14),
            stimp_ft: Stimp::new(stimp).unwrap(),
            putts: putts.collect(),
        };
        prop_assert_eq!(block.faults(), vec![]);
        let report = PuttingReport::of_practice(MEMBER, &[block], Baseline::tour());
        prop_assert_eq!(faults(&report, &putting::report()), Vec::<String>::new());
        prop_assert!(report.player.causes.is_none() && report.advice.certainty == Certainty::Early);
        // the shape that the route declares has one field more
        prop_assert_eq!(faults(&report, &practice::report()).len(), 1);
    }
}
