//! The rows of a file as holes of a card, and why a row cannot be taken.
//!
//! Nothing is guessed and nothing falls under the table: what a row got wrong stays [`Said::Bad`] in its place, so that
//! the card cannot be handed in before somebody put it right.

use crate::domain::facts::PuttResult;
use crate::domain::facts::round::MAX_PUTTS;
use crate::domain::units::{Degrees, Feet, HoleNumber, Inches, Mph};
use crate::wire::card_file::cells::{self, HoleStrokes, Said};
use crate::wire::card_file::meaning::{Line, Meaning};
use crate::wire::card_file::table::{Row, Table};
use std::collections::{BTreeMap, HashSet};

/// A putt as a file has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FilePutt {
    /// Which putt of the hole it is.
    pub number: Said<u8>,
    /// From where.
    pub distance_ft: Said<Feet>,
    /// How much higher the hole lies.
    pub elevation_in: Said<Inches>,
    /// The speed that the sensor measured.
    pub ball_speed_mph: Said<Mph>,
    /// The direction that the sensor measured.
    pub start_line_deg: Said<Degrees>,
    /// The direction that the simulator used.
    pub played_line_deg: Said<Degrees>,
    /// What became of it: where the file says nothing, the last one of a hole was holed unless the hole was picked up,
    /// and the others were missed. [`Said::Bad`] where what it says does not fit the putts around it.
    pub result: Said<PuttResult>,
}

impl FilePutt {
    const UNSAID: Self = Self {
        number: Said::Nothing,
        distance_ft: Said::Nothing,
        elevation_in: Said::Nothing,
        ball_speed_mph: Said::Nothing,
        start_line_deg: Said::Nothing,
        played_line_deg: Said::Nothing,
        result: Said::Nothing,
    };
    /// Stands where the file lacks a putt.
    const LACKING: Self = Self { distance_ft: Said::Bad, ..Self::UNSAID };
}

/// A row as it was read.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadRow {
    /// Its line in the file.
    pub number: u64,
    /// The hole.
    pub hole: Said<HoleNumber>,
    /// The strokes on it.
    pub strokes: Said<HoleStrokes>,
    /// How many putts there were on it.
    pub putt_count: Said<u8>,
    /// The putt of this row.
    pub putt: Option<FilePutt>,
    /// Why it cannot be taken as it is.
    pub faults: Vec<String>,
}

/// A hole as the rows of a file make it.
#[derive(Clone, Debug, PartialEq)]
pub struct FileHole {
    /// Its number.
    pub number: HoleNumber,
    /// Its strokes.
    pub strokes: Said<HoleStrokes>,
    /// Its putts in order.
    pub putts: Vec<FilePutt>,
    /// How many putts there were, where only that is known.
    pub putt_count: Said<u8>,
    /// What is wrong with its rows together, though each is good.
    pub faults: Vec<String>,
}

/// What a file says of a round.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reading {
    /// The rows of the round in the order of the file.
    pub rows: Vec<ReadRow>,
    /// The holes that they make.
    pub holes: Vec<FileHole>,
    /// The rounds that the file tells apart, in order.
    pub rounds: Vec<String>,
    /// The one that was taken.
    pub round: Option<String>,
    /// How many rows of other rounds were left aside.
    pub of_other_rounds: usize,
    /// How many rows say nothing in the columns that are used.
    pub empty: usize,
}

impl Reading {
    /// Returns how many rows are taken as they are.
    pub fn good(&self) -> usize {
        self.rows.iter().filter(|row| row.faults.is_empty()).count()
    }

    /// Returns what is wrong with a hole, row by row and together.
    pub fn faults_of(&self, hole: &FileHole) -> Vec<String> {
        let rows = self.rows.iter().filter(|row| row.hole == Said::Good(hole.number));
        let of_row = |row: &ReadRow| row.faults.iter().map(|fault| format!("row {}: {fault}", row.number)).collect();
        rows.flat_map::<Vec<_>, _>(of_row).chain(hole.faults.iter().cloned()).collect()
    }

    /// Returns the rows that are not.
    pub fn bad(&self) -> Vec<&ReadRow> {
        self.rows.iter().filter(|row| !row.faults.is_empty()).collect()
    }
}

/// Finds what is wrong with the meanings of the columns themselves.
pub fn column_faults(names: &[String], meanings: &[Meaning]) -> Vec<String> {
    let mut faults = Vec::new();
    for (n, meaning) in meanings.iter().enumerate() {
        if let Some(other) = meanings[..n].iter().position(|other| meaning.says_the_same(*other)) {
            faults.push(format!("The columns {} and {} are said to hold the same.", names[other], names[n]));
        }
    }
    let any = |is: fn(&Meaning) -> bool| meanings.iter().any(is);
    if !any(|meaning| *meaning == Meaning::Hole) {
        faults.push("No column says which hole a row is about.".into());
    }
    if !any(|meaning| matches!(meaning, Meaning::Strokes | Meaning::PuttCount | Meaning::Distance(_))) {
        faults.push("No column says the strokes, the number of putts or the distance of a putt.".into());
    }
    faults
}

/// Reads the rows of a table whose columns mean this. `round` is the round to take, the last one of the file unless it
/// is among them; `played` are the holes of the event.
pub fn read(table: &Table, meanings: &[Meaning], round: Option<&str>, played: &[u8]) -> Reading {
    let mut reading = Reading::default();
    let of_round = meanings.iter().position(|meaning| *meaning == Meaning::Round);
    let round_of = |row: &Row| of_round.and_then(|n| row.cells.get(n)).filter(|cell| !cell.is_empty()).cloned();
    let mut known = HashSet::new();
    reading.rounds = table.rows.iter().filter_map(round_of).filter(|round| known.insert(round.clone())).collect();
    let asked = reading.rounds.iter().find(|known| Some(known.as_str()) == round);
    reading.round = asked.or(reading.rounds.last()).cloned();
    for row in &table.rows {
        if of_round.is_some() && round_of(row) != reading.round {
            reading.of_other_rounds += 1;
            continue;
        }
        match read_row(row, &table.names, meanings, played) {
            Some(row) => reading.rows.push(row),
            None => reading.empty += 1,
        }
    }
    reading.holes = holes(&mut reading.rows);
    reading
}

/// Says what a meaning asks of a cell.
fn due(meaning: Meaning) -> &'static str {
    match meaning {
        Meaning::NotUsed | Meaning::Round => "",
        Meaning::Hole => "hole number from 1 to 18",
        Meaning::Strokes => "number of strokes from 1 to 30, with or without p for picked up",
        Meaning::PuttCount | Meaning::PuttNumber => "small whole number",
        Meaning::Distance(_) => "distance in that unit of more than 0 and at most 200 ft",
        Meaning::Rise(..) => "height in that unit of at most 240 in up or down",
        Meaning::BallSpeed(_) => "speed in that unit of more than 0 and at most 40 mph",
        Meaning::Direction(..) => "direction of at most 45°, with a sign or with L or R",
        Meaning::Side(_) => "side: L or R, left or right",
        Meaning::Result => "result: holed, missed or conceded",
    }
}

/// Reads a row; none if the columns that are used say nothing.
fn read_row(row: &Row, names: &[String], meanings: &[Meaning], played: &[u8]) -> Option<ReadRow> {
    let cell = |n: usize| row.cells.get(n).map_or("", String::as_str);
    let (hole, strokes, putt_count) = (Said::Nothing, Said::Nothing, Said::Nothing);
    let mut read = ReadRow { number: row.number, hole, strokes, putt_count, putt: None, faults: Vec::new() };
    let is_beyond = row.cells.iter().skip(names.len()).any(|cell| !cell.is_empty());
    if row.cells.len() < names.len() || is_beyond {
        read.faults.push(format!("{} cells under {} columns", row.cells.len(), names.len()));
        return Some(read);
    }
    let side = |line: Line| {
        let n = meanings.iter().position(|meaning| *meaning == Meaning::Side(line));
        n.map_or(Said::Nothing, |n| cells::side(cell(n)))
    };
    let mut putt = FilePutt::UNSAID;
    for (n, meaning) in meanings.iter().copied().enumerate() {
        let text = cell(n);
        let is_bad = match meaning {
            Meaning::NotUsed | Meaning::Round => false,
            Meaning::Hole => take(&mut read.hole, cells::hole(text)),
            Meaning::Strokes => take(&mut read.strokes, cells::strokes(text)),
            Meaning::PuttCount => take(&mut read.putt_count, cells::count(text)),
            Meaning::PuttNumber => take(&mut putt.number, cells::count(text)),
            Meaning::Distance(unit) => take(&mut putt.distance_ft, cells::distance(text, unit)),
            Meaning::Rise(unit, positive) => take(&mut putt.elevation_in, cells::rise(text, unit, positive)),
            Meaning::BallSpeed(unit) => take(&mut putt.ball_speed_mph, cells::speed(text, unit)),
            Meaning::Direction(line, positive) => {
                let of = if line == Line::Start { &mut putt.start_line_deg } else { &mut putt.played_line_deg };
                take(of, cells::direction(text, positive, side(line).good()))
            }
            Meaning::Side(line) => side(line) == Said::Bad,
            Meaning::Result => take(&mut putt.result, cells::result(text)),
        };
        if is_bad {
            read.faults.push(format!("“{text}” under {} is no {}", names[n], due(meaning)));
        }
    }
    read.putt = Some(putt).filter(|putt| *putt != FilePutt::UNSAID);
    read.settle(played).then_some(read)
}

/// Puts what a cell says where it belongs; says whether it cannot be taken.
fn take<T: PartialEq>(place: &mut Said<T>, said: Said<T>) -> bool {
    *place = said;
    *place == Said::Bad
}

impl ReadRow {
    /// Finds what is wrong with the row as a whole; answers whether it says anything.
    fn settle(&mut self, played: &[u8]) -> bool {
        if let Some(putt) = self.putt.as_mut().filter(|putt| !putt.distance_ft.is_said()) {
            putt.distance_ft = Said::Bad;
            self.faults.push("a putt without a distance".into());
        }
        match self.hole {
            Said::Good(hole) if !played.contains(&hole.get()) => {
                self.faults.push(format!("hole {} is not played in this event", hole.get()));
                self.hole = Said::Bad;
            }
            Said::Nothing if self.strokes.is_said() || self.putt_count.is_said() || self.putt.is_some() => {
                self.faults.push("no hole number".into());
            }
            Said::Nothing => return false,
            Said::Good(_) | Said::Bad => {}
        }
        true
    }
}

/// Puts the rows of each hole together.
fn holes(rows: &mut [ReadRow]) -> Vec<FileHole> {
    let mut by_hole: BTreeMap<HoleNumber, Vec<&mut ReadRow>> = BTreeMap::new();
    for row in rows {
        if let Said::Good(hole) = row.hole {
            by_hole.entry(hole).or_default().push(row);
        }
    }
    by_hole.into_iter().map(|(number, rows)| hole(number, rows)).collect()
}

fn hole(number: HoleNumber, mut rows: Vec<&mut ReadRow>) -> FileHole {
    let mut hole =
        FileHole { number, strokes: Said::Nothing, putts: Vec::new(), putt_count: Said::Nothing, faults: vec![] };
    for row in &mut rows {
        let (strokes, count) = (row.strokes, row.putt_count);
        if !agree(&mut hole.strokes, strokes) {
            row.faults.push(format!("other strokes than an earlier row of hole {}", number.get()));
        }
        if !agree(&mut hole.putt_count, count) {
            row.faults.push(format!("another number of putts than an earlier row of hole {}", number.get()));
        }
    }
    let mut struck: Vec<&mut ReadRow> = rows.into_iter().collect();
    struck.sort_by_key(|row| row.putt.is_none());
    let with_putt = struck.iter().take_while(|row| row.putt.is_some()).count();
    in_order(&mut hole, &mut struck[..with_putt]);
    if let Said::Good(count) = hole.putt_count {
        let found = hole.putts.len();
        if found > 0 && found != usize::from(count) {
            hole.faults.push(format!("{count} putts are said, and there are rows of {found}"));
            hole.putts.push(FilePutt::LACKING);
        }
    }
    hole
}

/// Takes what a further row says of a hole; answers whether it agrees with the rows before.
fn agree<T: PartialEq + Copy>(known: &mut Said<T>, said: Said<T>) -> bool {
    match (&known, &said) {
        (_, Said::Nothing) => true,
        (Said::Good(before), Said::Good(now)) if before != now => {
            *known = Said::Bad;
            false
        }
        (Said::Bad, _) => true,
        _ => {
            *known = said;
            true
        }
    }
}

/// Puts the putts of a hole in order, and finds where the order or the results do not fit.
fn in_order(hole: &mut FileHole, rows: &mut [&mut ReadRow]) {
    let number_of = |row: &ReadRow| row.putt.and_then(|putt| putt.number.good());
    if rows.iter().all(|row| number_of(row).is_some()) {
        rows.sort_by_key(|row| number_of(row));
    }
    let picked_up = hole.strokes.good().is_some_and(|strokes| strokes.picked_up);
    let (last, mut expected) = (rows.len().wrapping_sub(1), 1);
    for (n, row) in rows.iter_mut().enumerate() {
        let Some(mut putt) = row.putt else { continue };
        if hole.putts.len() >= MAX_PUTTS {
            row.faults.push(format!("more than {MAX_PUTTS} putts on hole {}", hole.number.get()));
            continue;
        }
        if let Some(number) = number_of(row) {
            match usize::from(number) {
                number if number == expected => {}
                number if number > expected => {
                    row.faults.push(format!("putt {number}, and no putt {expected} before it"));
                    hole.putts.push(FilePutt::LACKING);
                }
                _ => {
                    row.faults.push(format!("putt {number} of hole {} again", hole.number.get()));
                    putt.distance_ft = Said::Bad;
                }
            }
            expected = expected.max(usize::from(number) + 1);
        }
        match putt.result {
            Said::Good(PuttResult::Holed | PuttResult::Conceded) if n != last => {
                row.faults.push("holed or conceded, and another putt of the hole follows".into());
                putt.result = Said::Bad;
            }
            Said::Good(PuttResult::Missed) if n == last && !picked_up => {
                let row = row.number;
                let more = "missed, and no putt of the hole follows: add the one that was conceded or holed";
                hole.faults.push(format!("row {row}: {more}"));
            }
            Said::Nothing => {
                let is_in = n == last && !picked_up;
                putt.result = Said::Good(if is_in { PuttResult::Holed } else { PuttResult::Missed });
            }
            _ => {}
        }
        row.putt = Some(putt);
        hole.putts.push(putt);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAYED: [u8; 9] = [1, 2, 3, 4, 5, 6, 7, 8, 9];

    fn reading(text: &str, words: &[&str], round: Option<&str>) -> Reading {
        let table = Table::read(text, None, None).unwrap();
        let meanings: Vec<Meaning> = words.iter().map(|word| Meaning::from_word(word).unwrap()).collect();
        assert_eq!(column_faults(&table.names, &meanings), Vec::<String>::new());
        read(&table, &meanings, round, &PLAYED)
    }

    fn feet(hole: &FileHole) -> Vec<Option<f64>> {
        hole.putts.iter().map(|putt| putt.distance_ft.good().map(Feet::get)).collect()
    }

    fn faults(reading: &Reading) -> Vec<(u64, &str)> {
        let of = |row: &'_ ReadRow| (row.number, row.faults.len());
        assert!(reading.bad().into_iter().map(of).all(|(_, count)| count > 0));
        reading.bad().into_iter().flat_map(|row| row.faults.iter().map(|fault| (row.number, fault.as_str()))).collect()
    }

    #[test]
    fn putts_become_holes_in_our_units() {
        let text =
            "hole;from (m);speed;line;up (cm);end\n1;3,048;2,2352;0,8;-2,54;miss\n1;0,6096;;L 1;;gimme\n2;1;;;;made";
        let words = ["hole", "distance_m", "speed_mps", "start_left", "rise_cm", "result"];
        let found = reading(text, &words, None);
        assert_eq!((found.good(), faults(&found)), (3, vec![]));
        let first = &found.holes[0];
        assert_eq!(feet(first), [Some(10.0), Some(2.0)]);
        let putt = first.putts[0];
        assert_eq!(putt.ball_speed_mph.good().map(Mph::get), Some(5.0));
        assert_eq!(putt.start_line_deg.good().map(Degrees::get), Some(-0.8));
        assert_eq!(putt.elevation_in.good().map(Inches::get), Some(-1.0));
        assert_eq!(first.putts[1].start_line_deg.good().map(Degrees::get), Some(-1.0));
        assert_eq!(first.putts[1].result, Said::Good(PuttResult::Conceded));
        assert_eq!(found.holes.iter().map(|hole| hole.faults.len()).sum::<usize>(), 0);
    }

    #[test]
    fn holes_have_strokes_and_a_number_of_putts() {
        let found = reading("1,5,2\n2,p,\n3,4,0\n,,\nTotal,9,2", &["hole", "strokes", "putt_count"], None);
        assert_eq!(found.empty, 1);
        assert_eq!(faults(&found), [(5, "“Total” under column 1 is no hole number from 1 to 18")]);
        let strokes: Vec<_> = found.holes.iter().map(|hole| hole.strokes.good()).collect();
        assert_eq!(strokes[1].map(|strokes| (strokes.strokes, strokes.picked_up)), Some((None, true)));
        assert_eq!(found.holes[0].putt_count, Said::Good(2));
        assert_eq!(found.holes[2].putt_count, Said::Good(0));
    }

    #[test]
    fn a_bad_cell_keeps_its_place() {
        let found = reading(
            "hole,ft,mph\n1,31,6\n1,nine,3\n1,2,fast\n12,4,\n,5,\n2,9,\n2",
            &["hole", "distance_ft", "speed_mph"],
            None,
        );
        let due = [
            (3, "“nine” under ft is no distance in that unit of more than 0 and at most 200 ft"),
            (4, "“fast” under mph is no speed in that unit of more than 0 and at most 40 mph"),
            (5, "hole 12 is not played in this event"),
            (6, "no hole number"),
            (8, "1 cells under 3 columns"),
        ];
        assert_eq!(faults(&found), due);
        assert_eq!(feet(&found.holes[0]), [Some(31.0), None, Some(2.0)]);
        assert_eq!(found.holes[0].putts[2].ball_speed_mph, Said::Bad);
        assert_eq!(found.faults_of(&found.holes[0]).len(), 2);
        assert_eq!(found.good(), 2);
    }

    #[test]
    fn putts_are_put_in_order_and_gaps_are_seen() {
        let words = ["hole", "putt", "distance_ft"];
        assert_eq!(feet(&reading("1,2,3\n1,1,31", &words, None).holes[0]), [Some(31.0), Some(3.0)]);
        let gap = reading("1,1,31\n1,3,2", &words, None);
        assert_eq!(faults(&gap), [(2, "putt 3, and no putt 2 before it")]);
        assert_eq!(feet(&gap.holes[0]), [Some(31.0), None, Some(2.0)]);
        let again = reading("1,1,31\n1,1,2", &words, None);
        assert_eq!(faults(&again), [(2, "putt 1 of hole 1 again")]);
        let many = (1..=12).map(|n| format!("1,{n},5\n")).collect::<String>();
        let many = reading(&many, &words, None);
        assert_eq!((many.holes[0].putts.len(), many.bad().len()), (10, 2));
    }

    #[test]
    fn results_fit_the_putts_around_them() {
        let words = ["hole", "strokes", "distance_ft", "result"];
        let after = reading("1,5,31,holed\n1,5,2,holed", &words, None);
        assert_eq!(faults(&after), [(1, "holed or conceded, and another putt of the hole follows")]);
        let open = reading("1,5,31,missed\n2,7p,9,missed", &words, None);
        assert_eq!(faults(&open), []);
        assert!(open.holes[0].faults[0].contains("no putt of the hole follows"), "{:?}", open.holes[0]);
        assert_eq!(open.holes[1].faults, Vec::<String>::new(), "a hole that was picked up ends with a miss");
        let strokes = reading("1,5,31,missed\n1,6,2,holed", &words, None);
        assert_eq!(faults(&strokes), [(2, "other strokes than an earlier row of hole 1")]);
        assert_eq!(strokes.holes[0].strokes, Said::Bad);
        let count = reading("1,3,31\n1,3,2", &["hole", "putt_count", "distance_ft"], None);
        assert_eq!(feet(&count.holes[0]), [Some(31.0), Some(2.0), None]);
        assert_eq!(count.holes[0].faults, ["3 putts are said, and there are rows of 2"]);
    }

    #[test]
    fn what_became_of_a_putt_follows_from_its_place_in_the_hole() {
        use PuttResult::{Holed, Missed};
        let of_rows = |found: &Reading| {
            let results = found.rows.iter().map(|row| row.putt.and_then(|putt| putt.result.good()));
            results.collect::<Vec<_>>()
        };
        // The second putt stands first in the file, and a hole that was picked up has no putt that fell.
        let found =
            reading("1,5,2,3\n1,5,1,31\n2,7p,1,20\n2,7p,2,4", &["hole", "strokes", "putt", "distance_ft"], None);
        assert_eq!(of_rows(&found), [Some(Holed), Some(Missed), Some(Missed), Some(Missed)]);
        assert_eq!(found.holes[0].putts.last().map(|putt| putt.result), Some(Said::Good(Holed)));
        // What is on no hole of the event became nothing.
        assert_eq!(of_rows(&reading("12,4\n1,3", &["hole", "distance_ft"], None)), [None, Some(Holed)]);
    }

    #[test]
    fn one_round_of_many_is_taken() {
        let (text, words) = ("day,hole,ft\nMon,1,31\nTue,1,8\nTue,2,9\n,3,4", ["round", "hole", "distance_ft"]);
        let last = reading(text, &words, None);
        assert_eq!(
            (last.rounds.as_slice(), last.round.as_deref()),
            (["Mon".to_owned(), "Tue".into()].as_slice(), Some("Tue"))
        );
        assert_eq!((last.rows.len(), last.of_other_rounds), (2, 2));
        assert_eq!(feet(&reading(text, &words, Some("Mon")).holes[0]), [Some(31.0)]);
        assert_eq!(reading(text, &words, Some("Wed")).round.as_deref(), Some("Tue"));
    }

    #[test]
    fn columns_must_say_enough_and_nothing_twice() {
        let names = ["a".to_owned(), "b".into(), "c".into()];
        let of = |words: [&str; 3]| column_faults(&names, &words.map(|word| Meaning::from_word(word).unwrap()));
        assert_eq!(of(["hole", "distance_ft", ""]), Vec::<String>::new());
        assert_eq!(of(["hole", "distance_ft", "distance_m"]), ["The columns b and c are said to hold the same."]);
        assert_eq!(of(["", "", "result"]).len(), 2);
    }
}
