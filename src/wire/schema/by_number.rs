//! Objects whose names are whole numbers, such as points by result.

use super::{Check, Path, Schema, shortened};
use crate::wire::json::{Node, whole_number};
use std::borrow::Cow;

impl Schema {
    /// Checks an object of whole numbers by whole numbers.
    pub(super) fn by_number(
        keys: (i64, i64),
        values: (i64, i64),
        given: &[(Cow<'_, str>, Node<'_>)],
        at: &Path<'_>,
        check: &mut Check,
    ) {
        let most = (keys.1 - keys.0 + 1) as usize;
        if given.len() > most {
            check.ranged(
                at,
                "wrong-length",
                format!("must have at most {most} entries; it has {}", given.len()),
                Some((0.0, most as f64)),
            );
            return;
        }
        for (n, (name, value)) in given.iter().enumerate() {
            let at = Path::Field(at, name);
            if given[..n].iter().any(|(before, _)| before == name) {
                check.fault(&at, "repeated-field", format!("{} is given twice", shortened(name)));
            }
            let key = whole_number(name).filter(|n| (keys.0..=keys.1).contains(n) && n.to_string() == **name);
            if key.is_none() {
                let detail = format!("must have whole numbers from {} to {} as names", keys.0, keys.1);
                check.ranged(&at, "out-of-range", detail, Some((keys.0 as f64, keys.1 as f64)));
            }
            Schema::Whole(values.0, values.1).walk(value, &at, check);
        }
    }
}
