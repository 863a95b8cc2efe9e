//! Bodies of JSON: read whole, checked for shape and rules, patched.

use crate::domain::facts::{Fault, Rules};
use crate::domain::rule::Rule;
use crate::http::canonical::hash_of;
use crate::http::incoming::read;
use crate::http::kinds::Kind;
use crate::http::problem::Problem;
use crate::league::Refusal;
use crate::wire::json::Node;
use crate::wire::schema::{FieldError, Fill, MOST_FAULTS, Schema, repeated_fields};
use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::web::Bytes;
use actix_web::{FromRequest, HttpMessage, HttpRequest};
use futures_util::future::LocalBoxFuture;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};

/// The largest body that is read, after decompression.
pub const MOST_BYTES: usize = 64 * 1024;

/// A JSON body as it came.
pub struct Body(pub Bytes);

impl FromRequest for Body {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let kind = request.content_type().to_ascii_lowercase();
        let is_json = matches!(kind.as_str(), "application/json" | "application/merge-patch+json");
        let read = read(request, payload, MOST_BYTES);
        Box::pin(async move {
            if !is_json {
                return Err(unsupported("application/json"));
            }
            Ok(Body(read.await?))
        })
    }
}

/// The problem of a body of another media type.
pub fn unsupported(wanted: &str) -> Problem {
    Problem::new(Kind::UnsupportedMediaType, format!("send {wanted}")).with(header::ACCEPT, wanted)
}

/// Reads a text as JSON of a shape.
///
/// # Errors
/// 400 for what is not JSON; 422 with every field that is wrong.
pub fn checked<'a>(text: &'a [u8], schema: &Schema) -> Result<Node<'a>, Problem> {
    let node = parsed(text)?;
    let errors = schema.check(&node);
    if errors.is_empty() { Ok(node) } else { Err(Problem::fields(errors)) }
}

/// Reads a text as JSON of any shape.
///
/// # Errors
/// 400 for what is not JSON.
pub fn parsed(text: &[u8]) -> Result<Node<'_>, Problem> {
    Node::parse(text).map_err(|malformed| Problem::malformed(format!("not JSON: {malformed}")))
}

/// Turns a checked value into its type.
///
/// # Errors
/// 422, where the type refuses what its shape let through.
pub fn decoded<T: DeserializeOwned>(node: &Node<'_>) -> Result<T, Problem> {
    node.decode().map_err(|unreadable| {
        Problem::fields(vec![FieldError {
            pointer: String::new(),
            detail: unreadable.to_string(),
            code: "unreadable",
            min: None,
            max: None,
        }])
    })
}

impl Body {
    /// Reads the body as JSON of a shape.
    ///
    /// # Errors
    /// As [`checked`].
    pub fn node(&self, schema: &Schema) -> Result<Node<'_>, Problem> {
        checked(&self.0, schema)
    }

    /// Reads the body as a type.
    ///
    /// # Errors
    /// As [`checked`] and [`decoded`].
    pub fn read<T: DeserializeOwned>(&self, schema: &Schema) -> Result<T, Problem> {
        decoded(&self.node(schema)?)
    }

    /// Reads the body as a type with rules between its fields, which are told together with what is wrong with single ones.
    ///
    /// # Errors
    /// What cannot be read; wrong fields and broken rules, all at once.
    pub fn read_with_rules<T: DeserializeOwned + Rules>(&self, schema: &Schema) -> Result<T, Problem> {
        let node = parsed(&self.0)?;
        let errors = schema.check(&node);
        if errors.is_empty() {
            return decoded(&node);
        }
        let faults = broken_of::<T>(&node, schema, &errors);
        Err(Problem::fields_and_faults(errors, faults))
    }

    /// Makes of a merge patch (RFC 7396) the function that patches a stored body and checks the whole.
    ///
    /// # Errors
    /// 400 for what is not JSON; 422 for what is no object.
    pub fn patch<T: DeserializeOwned + Rules>(
        &self,
        schema: fn() -> Schema,
    ) -> Result<impl FnOnce(&str) -> Result<T, Refusal> + Clone + Send + 'static, Problem> {
        let any_object = checked(&self.0, &Schema::Anything)?;
        if !matches!(any_object, Node::Object(_)) {
            return Err(Problem::malformed("a merge patch is an object"));
        }
        let bytes = self.0.clone();
        Ok(move |before: &str| {
            let unreadable = |what: String| Refusal::fault("", Rule::Validation, what);
            let before = Node::parse(before.as_bytes()).map_err(|error| unreadable(error.0))?;
            let patch = Node::parse(&bytes).map_err(|error| unreadable(error.0))?;
            // Merging keeps one of two fields of a name, so repetitions are looked for before.
            let mut errors = repeated_fields(&patch);
            let merged = merge(before, patch);
            let faults = schema().check(&merged);
            errors.extend(faults.into_iter().filter(|fault| fault.code != "repeated-field"));
            errors.truncate(MOST_FAULTS);
            if !errors.is_empty() {
                let faults = broken_of::<T>(&merged, &schema(), &errors);
                return Err(Refusal::Fields(errors, faults));
            }
            merged.decode().map_err(|error| unreadable(error.to_string()))
        })
    }

    /// Returns the hash of the body in canonical form: keys in order, no white space; of anything but JSON as it came.
    pub fn canonical_hash(&self) -> [u8; 32] {
        match Node::parse(&self.0) {
            Ok(node) => hash_of(&node),
            Err(_) => Sha256::digest(&self.0).into(),
        }
    }
}

/// Finds the rules between fields that a body breaks in which some fields are wrong: those that hang on none of these.
///
/// Each wrong field is replaced twice, by its lowest and its highest value; what is broken both times does not hang on it.
pub fn broken_beside(
    node: &Node<'_>,
    schema: &Schema,
    errors: &[FieldError],
    broken: impl Fn(Node<'_>) -> Vec<Fault>,
) -> Vec<Fault> {
    let (low, high) = (broken(schema.mended(node, Fill::Low)), broken(schema.mended(node, Fill::High)));
    let is_in = |fault: &Fault, error: &FieldError| {
        let rest = fault.pointer.strip_prefix(&error.pointer);
        rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
    };
    let mut found = low;
    found.retain(|fault| {
        let again = high.iter().any(|other| (other.rule, &other.pointer) == (fault.rule, &fault.pointer));
        again && !errors.iter().any(|error| is_in(fault, error))
    });
    found
}

/// Finds the rules of a type that a body breaks beside its wrong fields.
pub fn broken_of<T: DeserializeOwned + Rules>(node: &Node<'_>, schema: &Schema, errors: &[FieldError]) -> Vec<Fault> {
    broken_beside(node, schema, errors, |mended| mended.decode::<T>().map(|body| body.broken()).unwrap_or_default())
}

fn merge<'a>(before: Node<'a>, patch: Node<'a>) -> Node<'a> {
    let Node::Object(changes) = patch else { return patch };
    let mut fields = match before {
        Node::Object(fields) => fields,
        _ => Vec::new(),
    };
    for (name, change) in changes {
        let place = fields.iter().position(|(known, _)| *known == name);
        match (change, place) {
            (Node::Null, Some(place)) => {
                fields.remove(place);
            }
            // A null that removes nothing still names its field, so that a misspelt one is seen.
            (Node::Null, None) => fields.push((name, Node::Null)),
            (change, Some(place)) => {
                let before = std::mem::replace(&mut fields[place].1, Node::Null);
                fields[place].1 = merge(before, change);
            }
            (change, None) => fields.push((name, merge(Node::Null, change))),
        }
    }
    Node::Object(fields)
}
