//! A shape as OpenAPI 3.1 describes it.

use crate::wire::schema::{Field, MOST_CURSOR, Schema, name};
use serde_json::{Value, json};
use std::collections::BTreeMap;

impl Schema {
    /// Writes the shape as an OpenAPI 3.1 schema.
    pub fn describe(&self) -> Value {
        match self {
            Schema::Object(fields) => describe_object(fields, None),
            Schema::Array(items, min, max) => {
                let mut shape = json!({ "type": "array", "items": items.describe(), "minItems": min });
                if *max < usize::MAX {
                    shape["maxItems"] = json!(max);
                }
                shape
            }
            Schema::Whole(min, max) => json!({ "type": "integer", "minimum": min, "maximum": max }),
            Schema::Numbers(numbers) => json!({ "type": "integer", "enum": numbers }),
            Schema::Real { min, max, above } => {
                let low = if *above { "exclusiveMinimum" } else { "minimum" };
                json!({ "type": "number", low: min, "maximum": max })
            }
            Schema::Tenths(min, max) => json!({
                "type": "number", "multipleOf": 0.1,
                "minimum": f64::from(*min) / 10.0, "maximum": f64::from(*max) / 10.0,
            }),
            Schema::Text(min, max) => json!({ "type": "string", "minLength": min, "maxLength": max }),
            Schema::Name(max) => {
                json!({ "type": "string", "minLength": 1, "maxLength": max, "pattern": name::PATTERN.as_str() })
            }
            Schema::Word(words) => json!({ "type": "string", "enum": words }),
            Schema::Flag => json!({ "type": "boolean" }),
            Schema::Id => json!({ "type": "string", "format": "uuid" }),
            Schema::Cursor => json!({ "type": "string", "maxLength": MOST_CURSOR, "pattern": "^[A-Za-z0-9_-]+$" }),
            Schema::Date => json!({ "type": "string", "format": "date" }),
            Schema::Instant => json!({ "type": "string", "format": "date-time" }),
            Schema::Zone => json!({ "type": "string", "description": "IANA time zone" }),
            Schema::Nullable(inner) => json!({ "anyOf": [inner.describe(), { "type": "null" }] }),
            Schema::ByKind(kinds) => {
                let shapes: Vec<Value> =
                    kinds.iter().map(|(kind, fields)| describe_object(fields, Some(kind))).collect();
                json!({ "oneOf": shapes })
            }
            Schema::ByType(shapes) => json!({ "anyOf": shapes.iter().map(Schema::describe).collect::<Vec<_>>() }),
            Schema::ByNumber { keys, values } => json!({
                "type": "object", "maxProperties": keys.1 - keys.0 + 1,
                "propertyNames": { "pattern": "^(0|-?[1-9][0-9]?)$" },
                "additionalProperties": { "type": "integer", "minimum": values.0, "maximum": values.1 },
            }),
            Schema::Named(name, _) => json!({ "$ref": format!("#/components/schemas/{name}") }),
            Schema::Anything => json!({}),
        }
    }

    /// Collects the named shapes inside this one.
    pub fn names(&self, found: &mut BTreeMap<&'static str, Schema>) {
        let mut fields = |fields: &[Field]| fields.iter().for_each(|field| field.schema.names(found));
        match self {
            Schema::Object(given) => fields(given),
            Schema::ByKind(kinds) => kinds.iter().for_each(|(_, given)| fields(given)),
            Schema::Array(inner, ..) | Schema::Nullable(inner) => inner.names(found),
            Schema::Named(name, schema) if !found.contains_key(name) => {
                found.insert(name, (**schema).clone());
                schema.names(found);
            }
            _ => {}
        }
    }
}

fn describe_object(fields: &[Field], kind: Option<&str>) -> Value {
    let mut properties = serde_json::Map::new();
    let mut required = Vec::new();
    if let Some(kind) = kind {
        properties.insert("kind".into(), json!({ "const": kind }));
        required.push("kind");
    }
    for field in fields {
        properties.insert(field.name.into(), field.schema.describe());
        if !field.optional {
            required.push(field.name);
        }
    }
    json!({ "type": "object", "properties": properties, "required": required, "additionalProperties": false })
}
