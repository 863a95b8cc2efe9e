//! What splits competitors who are level in a table.

use std::cmp::Ordering;

/// Puts a group that is level in order and returns it in parts, best first; who shares a part stays level.
///
/// The words are tried in order. The first that splits the group makes parts of it, and each part begins the list anew.
/// `keys` returns for each of a group what a word compares, the better one less, or `None` where it does not apply to the
/// group.
///
/// # Source
/// Common practice, no source.
pub fn split<T: Copy, W: Copy, K: Ord>(
    group: Vec<T>,
    words: &[W],
    keys: &impl Fn(W, &[T]) -> Option<Vec<K>>,
) -> Vec<Vec<T>> {
    if group.len() < 2 {
        return vec![group];
    }
    for word in words {
        let Some(found) = keys(*word, &group) else { continue };
        let mut keyed: Vec<(K, T)> = found.into_iter().zip(group.iter().copied()).collect();
        keyed.sort_by(|a, b| a.0.cmp(&b.0));
        let parts: Vec<Vec<T>> = keyed
            .chunk_by(|a, b| a.0.cmp(&b.0) == Ordering::Equal)
            .map(|part| part.iter().map(|(_, one)| *one).collect())
            .collect();
        if parts.len() > 1 {
            return parts.into_iter().flat_map(|part| split(part, words, keys)).collect();
        }
    }
    vec![group]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_part_begins_the_list_anew() {
        // The first word tells whether a number is odd, but applies to groups of two only; the second compares halves.
        let keys = |word: char, group: &[i32]| match word {
            'o' => (group.len() == 2).then(|| group.iter().map(|n| n % 2).collect()),
            _ => Some(group.iter().map(|n| n / 4).collect()),
        };
        assert_eq!(split(vec![3, 2, 5, 7], &['o', 'h'], &keys), [vec![2], vec![3], vec![5, 7]]);
        assert_eq!(split(vec![5, 7], &['o'], &keys), [vec![5, 7]]);
        assert_eq!(split(Vec::new(), &['o'], &keys), [Vec::<i32>::new()]);
    }
}
