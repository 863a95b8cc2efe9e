//! The arguments of an operation, read by name with their limits.

use super::CalcError;
use crate::domain::exact::{self, Exact};
use crate::wire::json::{Node, pointer_to};
use std::collections::{BTreeMap, HashSet};
use std::fmt::Display;
use std::ops::RangeInclusive;
use std::str::FromStr;

/// The most fields that an object of arguments may have.
const MAX_FIELDS: usize = 64;

/// An object of arguments: each is asked for by name, and [`finish`](Self::finish) refuses those nobody asked for.
///
/// An optional argument that is `null` counts as left out. An error's pointer starts at this object.
#[derive(Debug)]
pub struct Arguments<'n> {
    fields: &'n [(std::borrow::Cow<'n, str>, Node<'n>)],
    /// One bit a field that was asked for.
    used: u64,
}

impl<'n> Arguments<'n> {
    /// Reads an object.
    ///
    /// # Errors
    /// Anything but an object of at most 64 fields.
    pub fn new(node: &'n Node<'n>) -> Result<Self, CalcError> {
        match node {
            Node::Object(fields) if fields.len() > MAX_FIELDS => {
                Err(CalcError::here(format!("must have at most {MAX_FIELDS} fields")))
            }
            Node::Object(fields) => Ok(Self { fields, used: 0 }),
            other => Err(CalcError::here(format!("must be an object, not {}", other.kind()))),
        }
    }

    /// Refuses arguments that were not asked for, by name. Operations call it before they compute.
    ///
    /// # Errors
    /// Names every unknown argument and points at the first.
    pub fn finish(&self) -> Result<(), CalcError> {
        let unknown: Vec<&str> = (0..self.fields.len())
            .filter(|field| self.used & (1 << field) == 0)
            .map(|field| self.fields[field].0.as_ref())
            .collect();
        let Some(first) = unknown.first() else { return Ok(()) };
        let plural = if unknown.len() == 1 { "" } else { "s" };
        Err(CalcError::at(&pointer_to("", first), format!("unknown argument{plural}: {}", unknown.join(", "))))
    }

    /// Returns an argument as it came, `null` included.
    ///
    /// # Errors
    /// An argument given twice.
    pub fn node(&mut self, name: &str) -> Result<Option<&'n Node<'n>>, CalcError> {
        let mut found = None;
        for (n, (key, node)) in self.fields.iter().enumerate() {
            if key == name {
                if found.is_some() {
                    return Err(CalcError::at(&pointer_to("", name), "is given more than once"));
                }
                self.used |= 1 << n;
                found = Some(node);
            }
        }
        Ok(found)
    }

    /// Reads an argument that must be there.
    ///
    /// # Errors
    /// A missing argument, and whatever `read` refuses.
    pub fn required<T>(
        &mut self,
        name: &str,
        read: impl FnOnce(Given<'n>) -> Result<T, CalcError>,
    ) -> Result<T, CalcError> {
        match self.node(name)? {
            None => Err(CalcError::at(&pointer_to("", name), "is required")),
            Some(node) => read(Given(node)).map_err(|error| error.under(name)),
        }
    }

    /// Reads an argument that may be left out or `null`.
    ///
    /// # Errors
    /// Whatever `read` refuses.
    pub fn optional<T>(
        &mut self,
        name: &str,
        read: impl FnOnce(Given<'n>) -> Result<T, CalcError>,
    ) -> Result<Option<T>, CalcError> {
        match self.node(name)? {
            None | Some(Node::Null) => Ok(None),
            Some(node) => read(Given(node)).map(Some).map_err(|error| error.under(name)),
        }
    }

    /// Reads an exact decimal.
    ///
    /// # Errors
    /// A missing argument or one outside `limits`.
    pub fn decimal(&mut self, name: &str, limits: RangeInclusive<i32>) -> Result<Exact, CalcError> {
        self.required(name, |given| given.decimal(limits))
    }

    /// Reads an exact decimal that may be left out.
    ///
    /// # Errors
    /// A value outside `limits`.
    pub fn decimal_or(&mut self, name: &str, limits: RangeInclusive<i32>, otherwise: i32) -> Result<Exact, CalcError> {
        Ok(self.optional(name, |given| given.decimal(limits))?.unwrap_or_else(|| exact::whole(otherwise)))
    }

    /// Reads a real number.
    ///
    /// # Errors
    /// A missing argument or one outside `limits`.
    pub fn real(&mut self, name: &str, limits: RangeInclusive<f64>) -> Result<f64, CalcError> {
        self.required(name, |given| given.real(limits))
    }

    /// Reads a real number that may be left out.
    ///
    /// # Errors
    /// A value outside `limits`.
    pub fn real_or(&mut self, name: &str, limits: RangeInclusive<f64>, otherwise: f64) -> Result<f64, CalcError> {
        Ok(self.optional(name, |given| given.real(limits))?.unwrap_or(otherwise))
    }

    /// Reads a whole number.
    ///
    /// # Errors
    /// A missing argument or one outside `limits`.
    pub fn integer<T: Whole>(&mut self, name: &str, limits: RangeInclusive<T>) -> Result<T, CalcError> {
        self.required(name, |given| given.integer(limits))
    }

    /// Reads a whole number that may be left out.
    ///
    /// # Errors
    /// A value outside `limits`.
    pub fn integer_or<T: Whole>(
        &mut self,
        name: &str,
        limits: RangeInclusive<T>,
        otherwise: T,
    ) -> Result<T, CalcError> {
        Ok(self.optional(name, |given| given.integer(limits))?.unwrap_or(otherwise))
    }

    /// Reads `true` or `false`, which may be left out.
    ///
    /// # Errors
    /// Anything else.
    pub fn flag_or(&mut self, name: &str, otherwise: bool) -> Result<bool, CalcError> {
        Ok(self.optional(name, Given::flag)?.unwrap_or(otherwise))
    }

    /// Reads one of several words.
    ///
    /// # Errors
    /// A missing argument or another word.
    pub fn choice<T: Copy>(&mut self, name: &str, choices: &[(&str, T)]) -> Result<T, CalcError> {
        self.required(name, |given| given.choice(choices))
    }

    /// Reads one of several words, which may be left out.
    ///
    /// # Errors
    /// Another word.
    pub fn choice_or<T: Copy>(&mut self, name: &str, choices: &[(&str, T)], otherwise: T) -> Result<T, CalcError> {
        Ok(self.optional(name, |given| given.choice(choices))?.unwrap_or(otherwise))
    }

    /// Reads an array, each element with `read`.
    ///
    /// # Errors
    /// A missing argument, one whose length is outside `count`, and whatever `read` refuses.
    pub fn list<T>(
        &mut self,
        name: &str,
        count: RangeInclusive<usize>,
        read: impl FnMut(Given<'n>) -> Result<T, CalcError>,
    ) -> Result<Vec<T>, CalcError> {
        self.required(name, |given| given.list(count, read))
    }
}

/// A value that was given.
#[derive(Clone, Copy, Debug)]
pub struct Given<'n>(&'n Node<'n>);

impl<'n> Given<'n> {
    /// Reads an exact decimal: a number, or a string that holds one.
    ///
    /// # Errors
    /// Anything else, or a value outside `limits`.
    pub fn decimal(self, limits: RangeInclusive<i32>) -> Result<Exact, CalcError> {
        let (least, greatest) = (i128::from(*limits.start()), i128::from(*limits.end()));
        let x = self.exact("a decimal number", least, greatest)?;
        if *x.numer() < least * x.denom() || *x.numer() > greatest * x.denom() {
            return Err(outside("a decimal number", least, greatest));
        }
        Ok(x)
    }

    /// Reads a whole number: a number, or a string that holds one; `12.0` is whole.
    ///
    /// # Errors
    /// Anything else, or a value outside `limits`.
    pub fn integer<T: Whole>(self, limits: RangeInclusive<T>) -> Result<T, CalcError> {
        let x = self.exact("a whole number", limits.start(), limits.end())?;
        let whole = if x.is_integer() { T::try_from(x.to_integer()).ok() } else { None };
        let within = whole.filter(|n| limits.contains(n));
        within.ok_or_else(|| outside("a whole number", limits.start(), limits.end()))
    }

    /// Reads a real number through a binary float: for putting, where nothing is rounded to a tenth.
    ///
    /// # Errors
    /// Anything else, or a value outside `limits`.
    pub fn real(self, limits: RangeInclusive<f64>) -> Result<f64, CalcError> {
        let x: Option<f64> = self.number().and_then(|text| text.parse().ok());
        let within = x.filter(|x| limits.contains(x));
        within.ok_or_else(|| outside("a number", limits.start(), limits.end()))
    }

    /// Reads `true` or `false`.
    ///
    /// # Errors
    /// Anything else.
    pub fn flag(self) -> Result<bool, CalcError> {
        match self.0 {
            Node::Bool(value) => Ok(*value),
            other => Err(CalcError::here(format!("must be true or false, not {}", other.kind()))),
        }
    }

    /// Reads a string of at most `characters` characters.
    ///
    /// # Errors
    /// Anything else.
    pub fn text(self, characters: usize) -> Result<&'n str, CalcError> {
        match self.0 {
            Node::Text(text) if text.chars().count() <= characters => Ok(text),
            Node::Text(_) => Err(CalcError::here(format!("must have at most {characters} characters"))),
            other => Err(CalcError::here(format!("must be a string, not {}", other.kind()))),
        }
    }

    /// Reads one of several words.
    ///
    /// # Errors
    /// Anything else; the message lists the words.
    pub fn choice<T: Copy>(self, choices: &[(&str, T)]) -> Result<T, CalcError> {
        let word = self.0.as_text();
        let found = choices.iter().find(|(name, _)| Some(*name) == word).map(|(_, value)| *value);
        found.ok_or_else(|| {
            let names: Vec<&str> = choices.iter().map(|(name, _)| *name).collect();
            CalcError::here(format!("must be one of {}", names.join(", ")))
        })
    }

    /// Reads what may be `null`.
    ///
    /// # Errors
    /// Whatever `read` refuses.
    pub fn or_null<T>(self, read: impl FnOnce(Self) -> Result<T, CalcError>) -> Result<Option<T>, CalcError> {
        if *self.0 == Node::Null { Ok(None) } else { read(self).map(Some) }
    }

    /// Returns whether it is an object: for what may be given in two forms.
    pub fn is_object(self) -> bool {
        matches!(self.0, Node::Object(_))
    }

    /// Reads an array, each element with `read`.
    ///
    /// # Errors
    /// Anything else, a length outside `count`, and whatever `read` refuses.
    pub fn list<T>(
        self,
        count: RangeInclusive<usize>,
        mut read: impl FnMut(Self) -> Result<T, CalcError>,
    ) -> Result<Vec<T>, CalcError> {
        match self.0 {
            Node::Array(items) if count.contains(&items.len()) => {
                let read = |(n, item)| read(Given(item)).map_err(|error| error.under(n));
                items.iter().enumerate().map(read).collect()
            }
            _ => Err(outside("an array with a number of elements", count.start(), count.end())),
        }
    }

    /// Reads an object with names of the caller's choice, each value with `read`, in the order given.
    ///
    /// # Errors
    /// Anything else, a number of names outside `count`, a name given twice, and whatever `read` refuses.
    pub fn named<T>(
        self,
        count: RangeInclusive<usize>,
        mut read: impl FnMut(Self) -> Result<T, CalcError>,
    ) -> Result<Vec<(&'n str, T)>, CalcError> {
        match self.0 {
            Node::Object(fields) if count.contains(&fields.len()) => {
                let mut seen = HashSet::with_capacity(fields.len());
                let read = |(name, node): &'n (std::borrow::Cow<'n, str>, Node<'n>)| {
                    if !seen.insert(name.as_ref()) {
                        return Err(CalcError::here("is given more than once").under(name));
                    }
                    Ok((name.as_ref(), read(Given(node)).map_err(|error| error.under(name))?))
                };
                fields.iter().map(read).collect()
            }
            _ => Err(outside("an object with a number of names", count.start(), count.end())),
        }
    }

    /// Reads an object whose names are whole numbers, each value with `read`.
    ///
    /// # Errors
    /// Anything else, a number of names outside `count`, a name that is no whole number within `names` as one writes it, and
    /// whatever `read` refuses.
    pub fn numbered<K: Whole + Ord + FromStr, T>(
        self,
        count: RangeInclusive<usize>,
        names: RangeInclusive<K>,
        read: impl FnMut(Self) -> Result<T, CalcError>,
    ) -> Result<BTreeMap<K, T>, CalcError> {
        let number = |name: &str| {
            let parsed = name.parse().ok().filter(|number| names.contains(number));
            // "+1" and "01" would be other names of 1.
            parsed.filter(|number| number.to_string() == name).ok_or_else(|| {
                let (least, greatest) = (names.start(), names.end());
                CalcError::here(format!("the name must be a whole number from {least} to {greatest}")).under(name)
            })
        };
        self.named(count, read)?.into_iter().map(|(name, value)| Ok((number(name)?, value))).collect()
    }

    /// Reads a nested object of arguments; those that `read` doesn't ask for are refused.
    ///
    /// # Errors
    /// Anything else, whatever `read` refuses, and unknown arguments.
    pub fn object<T>(self, read: impl FnOnce(&mut Arguments<'n>) -> Result<T, CalcError>) -> Result<T, CalcError> {
        let mut fields = Arguments::new(self.0)?;
        let value = read(&mut fields)?;
        fields.finish()?;
        Ok(value)
    }

    fn number(self) -> Option<&'n str> {
        match self.0 {
            Node::Number(text) | Node::Text(text) => Some(text),
            _ => None,
        }
    }

    fn exact(self, kind: &str, least: impl Display, greatest: impl Display) -> Result<Exact, CalcError> {
        let text = self.number().ok_or_else(|| outside(kind, &least, &greatest))?;
        exact::parse(text).map_err(|error| match error {
            exact::DecimalError::TooFine | exact::DecimalError::TooLong => CalcError::here(error.to_string()),
            exact::DecimalError::NotADecimal | exact::DecimalError::TooLarge => outside(kind, &least, &greatest),
        })
    }
}

/// A whole number type that an argument can be read into.
pub trait Whole: Copy + PartialOrd + Display + TryFrom<i128> {}

impl<T: Copy + PartialOrd + Display + TryFrom<i128>> Whole for T {}

fn outside(kind: &str, least: impl Display, greatest: impl Display) -> CalcError {
    CalcError::here(format!("must be {kind} from {least} to {greatest}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check<T: std::fmt::Debug + PartialEq>(
        json: &str,
        read: impl FnOnce(&mut Arguments<'_>) -> Result<T, CalcError>,
        expect: Result<T, (&str, &str)>,
    ) {
        let node = Node::parse(json.as_bytes()).unwrap();
        let mut arguments = Arguments::new(&node).unwrap();
        let found = read(&mut arguments).and_then(|value| arguments.finish().map(|()| value));
        assert_eq!(found, expect.map_err(|(pointer, detail)| CalcError::at(pointer, detail)), "{json}");
    }

    #[test]
    fn numbers_are_read_within_their_limits() {
        let slope = |arguments: &mut Arguments<'_>| arguments.integer("slope", 55..=155);
        let limit = Err(("/slope", "must be a whole number from 55 to 155"));
        check(r#"{"slope": 113}"#, slope, Ok(113));
        check(r#"{"slope": "113.0"}"#, slope, Ok(113));
        for bad in ["54", "113.5", "1e300", "[]", "true", r#""steep""#, "null"] {
            check(&format!(r#"{{"slope": {bad}}}"#), slope, limit);
        }
        check("{}", slope, Err(("/slope", "is required")));
        check(r#"{"x": 1.5}"#, |arguments| arguments.real("x", 0.0..=2.0), Ok(1.5));
        let real = Err(("/x", "must be a number from 0 to 2"));
        check(r#"{"x": "NaN"}"#, |arguments| arguments.real("x", 0.0..=2.0), real);
    }

    #[test]
    fn pointers_lead_to_the_place_of_the_fault() {
        let scores = |arguments: &mut Arguments<'_>| {
            arguments.list("scores", 0..=2, |score| score.object(|fields| fields.integer("a/b", 0..=9)))
        };
        check(r#"{"scores": [{"a/b": 1}, {"a/b": 2}]}"#, scores, Ok(vec![1, 2]));
        let limit = "must be a whole number from 0 to 9";
        check(r#"{"scores": [{"a/b": 1}, {"a/b": 10}]}"#, scores, Err(("/scores/1/a~1b", limit)));
        check(r#"{"scores": [{"a/b": 1, "c": 2}]}"#, scores, Err(("/scores/0/c", "unknown argument: c")));
        let count = "must be an array with a number of elements from 0 to 2";
        check(r#"{"scores": [1, 2, 3]}"#, scores, Err(("/scores", count)));
    }

    #[test]
    fn unknown_and_repeated_arguments_are_named() {
        let flag = |arguments: &mut Arguments<'_>| arguments.flag_or("flag", true);
        check(r#"{"flag": null}"#, flag, Ok(true));
        check(r#"{"flga": false, "x": 1}"#, flag, Err(("/flga", "unknown arguments: flga, x")));
        check(r#"{"flag": true, "flag": true}"#, flag, Err(("/flag", "is given more than once")));
    }
}
