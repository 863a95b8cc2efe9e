//! Adds a working up again, from its steps alone: a reader of formulas that shares nothing with the derivation.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use evenfield::domain::exact::Exact;
use evenfield::domain::season::working::{Given, Working};
use std::collections::HashMap;

#[derive(Clone, Debug, PartialEq)]
enum Value {
    Null,
    Number(Exact),
    List(Vec<Value>),
}

impl From<&Given> for Value {
    fn from(given: &Given) -> Self {
        match given {
            Given::Nothing => Value::Null,
            Given::Number(exact) => Value::Number(*exact),
            Given::List(items) => Value::List(items.iter().map(Value::from).collect()),
        }
    }
}

fn whole(n: i128) -> Exact {
    Exact::from_integer(n)
}

impl Value {
    fn number(&self) -> Exact {
        match self {
            Value::Number(exact) => *exact,
            other => panic!("{other:?} is no number"),
        }
    }

    fn list(&self) -> &[Value] {
        match self {
            Value::List(items) => items,
            other => panic!("{other:?} is no list"),
        }
    }
}

/// Combines two values, hole by hole where one is a list.
fn each(a: &Value, b: &Value, both: &dyn Fn(&Value, &Value) -> Value) -> Value {
    match (a, b) {
        (Value::List(a), Value::List(b)) => {
            assert_eq!(a.len(), b.len(), "lists of one length go together");
            Value::List(a.iter().zip(b).map(|(a, b)| each(a, b, both)).collect())
        }
        (Value::List(a), b) => Value::List(a.iter().map(|a| each(a, b, both)).collect()),
        (a, Value::List(b)) => Value::List(b.iter().map(|b| each(a, b, both)).collect()),
        (a, b) => both(a, b),
    }
}

fn arithmetic(a: &Value, b: &Value, sum: fn(Exact, Exact) -> Exact) -> Value {
    each(a, b, &|a, b| match (a, b) {
        (Value::Number(a), Value::Number(b)) => Value::Number(sum(*a, *b)),
        _ => Value::Null,
    })
}

/// The lesser or the greater; nothing gives way to something.
fn pick(a: &Value, b: &Value, first: fn(&Exact, &Exact) -> bool) -> Value {
    each(a, b, &|a, b| match (a, b) {
        (Value::Number(x), Value::Number(y)) => {
            if first(x, y) {
                a.clone()
            } else {
                b.clone()
            }
        }
        (Value::Null, other) | (other, Value::Null) => other.clone(),
        _ => panic!("a list inside a list"),
    })
}

/// Strokes fall on the lowest index first, round after round; a plus handicap gives back from the highest index.
fn allocate(handicap: Exact, indexes: &[Value]) -> Value {
    let handicap = handicap.to_integer();
    let mut order: Vec<usize> = (0..indexes.len()).collect();
    order.sort_by_key(|hole| indexes[*hole].number());
    if handicap < 0 {
        order.reverse();
    }
    let mut received = vec![0_i128; indexes.len()];
    for stroke in 0..handicap.unsigned_abs() as usize {
        received[order[stroke % order.len()]] += handicap.signum();
    }
    Value::List(received.into_iter().map(|strokes| Value::Number(whole(strokes))).collect())
}

fn call(name: &str, given: &[Value]) -> Value {
    let count = |n: usize| Value::Number(whole(n as i128));
    let key = |value: &Value| value.list().iter().map(Value::number).collect::<Vec<_>>();
    match (name, given) {
        ("sum", [list]) => Value::Number(list.list().iter().map(Value::number).sum()),
        ("count", [list]) => count(list.list().len()),
        ("smallest", [list, k]) => {
            let mut sorted: Vec<Exact> = list.list().iter().map(Value::number).collect();
            sorted.sort();
            let k = k.number().to_integer() as usize;
            Value::List(sorted.into_iter().take(k).map(Value::Number).collect())
        }
        ("min", [first, rest @ ..]) => rest.iter().fold(first.clone(), |a, b| pick(&a, b, |x, y| x <= y)),
        ("max", [first, rest @ ..]) => rest.iter().fold(first.clone(), |a, b| pick(&a, b, |x, y| x >= y)),
        ("round_half_up", [x]) => Value::Number((x.number() + Exact::new(1, 2)).floor()),
        ("round_tenth", [x]) => Value::Number((x.number() * whole(10) + Exact::new(1, 2)).floor() / whole(10)),
        ("allocate", [handicap, indexes]) => allocate(handicap.number(), indexes.list()),
        // The entry of a result, its ends beyond them, the least for a hole without a score.
        ("entry", [result, results, entries]) => each(result, &Value::Null, &|result, _| {
            let entries: Vec<Exact> = entries.list().iter().map(Value::number).collect();
            let Value::Number(result) = result else {
                return Value::Number(entries.iter().min().copied().unwrap());
            };
            let lowest = results.list()[0].number();
            let place = (*result - lowest).to_integer().clamp(0, entries.len() as i128 - 1);
            Value::Number(entries[place as usize])
        }),
        // 1, 0 or -1; a hole without a score is lost.
        ("sign", [x]) => each(x, &Value::Null, &|x, _| match x {
            Value::Number(x) => Value::Number(whole(i128::from(*x > whole(0)) - i128::from(*x < whole(0)))),
            _ => Value::Number(whole(-1)),
        }),
        ("at_least", [x, limit]) => count(usize::from(x.number() >= limit.number())),
        ("count_above", [own, others]) => count(others.list().iter().filter(|other| key(other) > key(own)).count()),
        ("count_below", [own, others]) => count(others.list().iter().filter(|other| key(other) < key(own)).count()),
        _ => panic!("no function {name} of {} values", given.len()),
    }
}

struct Reader<'a> {
    text: &'a [u8],
    at: usize,
    known: &'a HashMap<&'static str, Value>,
}

impl Reader<'_> {
    fn peek(&mut self) -> Option<u8> {
        while self.text.get(self.at) == Some(&b' ') {
            self.at += 1;
        }
        self.text.get(self.at).copied()
    }

    fn takes(&mut self, byte: u8) -> bool {
        let found = self.peek() == Some(byte);
        self.at += usize::from(found);
        found
    }

    fn sum(&mut self) -> Value {
        let mut value = self.product();
        loop {
            if self.takes(b'+') {
                value = arithmetic(&value, &self.product(), |a, b| a + b);
            } else if self.takes(b'-') {
                value = arithmetic(&value, &self.product(), |a, b| a - b);
            } else {
                return value;
            }
        }
    }

    fn product(&mut self) -> Value {
        let mut value = self.atom();
        loop {
            if self.takes(b'*') {
                value = arithmetic(&value, &self.atom(), |a, b| a * b);
            } else if self.takes(b'/') {
                value = arithmetic(&value, &self.atom(), |a, b| a / b);
            } else {
                return value;
            }
        }
    }

    fn atom(&mut self) -> Value {
        if self.takes(b'(') {
            let value = self.sum();
            assert!(self.takes(b')'), "a bracket is open");
            return value;
        }
        self.peek();
        let from = self.at;
        while self.text.get(self.at).is_some_and(|byte| byte.is_ascii_alphanumeric() || *byte == b'_') {
            self.at += 1;
        }
        let word = std::str::from_utf8(&self.text[from..self.at]).unwrap();
        if let Ok(number) = word.parse() {
            return Value::Number(whole(number));
        }
        if !self.takes(b'(') {
            return self.known.get(word).cloned().unwrap_or_else(|| panic!("{word:?} is not known yet"));
        }
        let mut given = vec![self.sum()];
        while self.takes(b',') {
            given.push(self.sum());
        }
        assert!(self.takes(b')'), "a bracket is open");
        call(word, &given)
    }
}

/// Recomputes every step of a working; returns the results by name.
///
/// # Panics
/// If a step does not follow from the ones before it and its own values.
pub fn add_up(working: &Working) -> HashMap<&'static str, Given> {
    let mut known: HashMap<&'static str, Value> = HashMap::new();
    let mut results = HashMap::new();
    for step in &working.steps {
        known.extend(step.values.iter().map(|named| (named.name, Value::from(&named.value))));
        let mut reader = Reader { text: step.formula.as_bytes(), at: 0, known: &known };
        let found = reader.sum();
        assert_eq!(reader.peek(), None, "{}: the formula goes on", step.formula);
        let due = Value::from(&step.result);
        assert_eq!(found, due, "{} does not follow: {} with {:?}", step.name, step.formula, step.values);
        known.insert(step.name, due);
        results.insert(step.name, step.result.clone());
    }
    results
}
