//! Promotion and relegation between neighbouring flights.

/// Moves the best of each flight up and as many of the flight above down; so sizes stay.
///
/// Those who move keep their order among themselves: from above, staying, from below. Nobody moves two flights, and nobody
/// goes both up and down.
///
/// # Formula
/// ```text
/// across the line between two flights: min(count, what either offers)
/// the first and the last flight offer all their members, a flight between two others half of them, rounded down
/// ```
///
/// # Shape
/// `flights` from the highest down, the members of each by position.
///
/// # Source
/// Common practice, no source; how few a small flight moves is evenfield's reading.
pub fn promote<T: Clone>(flights: &[Vec<T>], count: usize) -> Vec<Vec<T>> {
    let last = flights.len().saturating_sub(1);
    let offers = |flight: usize| {
        let members = flights[flight].len();
        if flight == 0 || flight == last { members } else { members / 2 }
    };
    // How many cross the line below each flight; none below the last.
    let crossing: Vec<usize> =
        (0..flights.len()).map(|n| if n == last { 0 } else { count.min(offers(n)).min(offers(n + 1)) }).collect();
    (0..flights.len())
        .map(|n| {
            let up = if n == 0 { 0 } else { crossing[n - 1] };
            let stays = up..flights[n].len() - crossing[n];
            let from_above = if n == 0 { &[][..] } else { &flights[n - 1][flights[n - 1].len() - up..] };
            let from_below = if n == last { &[][..] } else { &flights[n + 1][..crossing[n]] };
            [from_above, &flights[n][stays], from_below].concat()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(flights: &[&str], count: usize, expect: &[&str]) {
        let letters =
            |flights: &[&str]| -> Vec<Vec<char>> { flights.iter().map(|flight| flight.chars().collect()).collect() };
        assert_eq!(promote(&letters(flights), count), letters(expect));
    }

    #[test]
    fn as_many_go_up_as_down() {
        check(&["abc", "def"], 1, &["abd", "cef"]);
        check(&["abc", "def"], 2, &["ade", "bcf"]);
        check(&["ab", "cde"], 9, &["cd", "abe"]);
        check(&["abc", "def"], 0, &["abc", "def"]);
        check(&["ab"], 3, &["ab"]);
        check(&[], 1, &[]);
    }

    #[test]
    fn a_flight_between_two_others_offers_half_of_it() {
        check(&["ab", "cde", "fg"], 2, &["ac", "bdf", "eg"]);
        check(&["ab", "c", "de"], 1, &["ab", "c", "de"]);
        check(&["ab", "", "de"], 1, &["ab", "", "de"]);
        check(&["abcd", "efgh", "ijkl"], 3, &["abef", "cdij", "ghkl"]);
    }

    proptest! {
        #[test]
        fn sizes_stay_and_nobody_moves_two_flights(
            sizes in prop::collection::vec(0..9_usize, 1..6), count in 0..10_usize,
        ) {
            let mut next = 0..;
            let flights: Vec<Vec<usize>> = sizes.iter().map(|&size| next.by_ref().take(size).collect()).collect();
            let promoted = promote(&flights, count);
            let found: Vec<usize> = promoted.iter().map(Vec::len).collect();
            prop_assert_eq!(&found, &sizes);
            let flight_of = |flights: &[Vec<usize>], member| flights.iter().position(|flight| flight.contains(&member));
            for member in 0..sizes.iter().sum() {
                let (before, after) = (flight_of(&flights, member), flight_of(&promoted, member));
                prop_assert!(before.zip(after).is_some_and(|(before, after)| before.abs_diff(after) <= 1));
            }
        }
    }
}
