//! OpenAPI 3.1, made from the list of routes.

use crate::http::routes::{Access, Media, RouteDoc};
use crate::wire::body::views;
use crate::wire::schema::Schema;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// Describes routes.
pub fn document(docs: &[RouteDoc]) -> Value {
    let mut paths: BTreeMap<&str, Map<String, Value>> = BTreeMap::new();
    let mut schemas = BTreeMap::new();
    for doc in docs {
        for media in [&doc.takes, &doc.answers] {
            if let Media::Json(schema)
            | Media::Patch(schema)
            | Media::Lines(schema)
            | Media::JsonOrCsv(schema)
            | Media::Events(schema) = media
            {
                schema.names(&mut schemas);
            }
        }
        paths.entry(doc.path).or_default().insert(doc.method.as_str().to_lowercase(), operation(doc));
    }
    let mut named: Map<String, Value> =
        schemas.into_iter().map(|(name, schema)| (name.to_owned(), schema.describe())).collect();
    named.insert("Problem".into(), views::problem().describe());
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "evenfield",
            "version": env!("CARGO_PKG_VERSION"),
            "description": "A league server for golfers who play on indoor simulators. A league index is computed \
                from simulator rounds; no golf association issues or recognises it. RateLimit-Policy and RateLimit say \
                with every answer to an account what it may ask and what is left \
                (draft-ietf-httpapi-ratelimit-headers-10).",
            "license": { "name": "MIT OR Apache-2.0", "identifier": "MIT OR Apache-2.0" },
        },
        "servers": [{ "url": "/api/v1" }],
        "paths": paths,
        "components": {
            "schemas": named,
            "securitySchemes": {
                "bearer": { "type": "http", "scheme": "bearer", "bearerFormat": "JWT" },
                "browser": { "type": "apiKey", "in": "cookie", "name": crate::accounts::cookie::NAME },
            },
        },
    })
}

fn operation(doc: &RouteDoc) -> Value {
    let words = doc.path.split('/').filter(|part| !part.is_empty());
    let id = words.map(|part| part.trim_matches(['{', '}'])).collect::<Vec<_>>().join("_");
    let mut operation = json!({
        "operationId": format!("{}_{id}", doc.method.as_str().to_lowercase()),
        "summary": doc.summary,
        "description": doc.access.words(),
        "parameters": parameters(doc),
        "responses": responses(doc),
        "security": if doc.access == Access::Anyone { json!([]) } else { json!([{ "bearer": [] }, { "browser": [] }]) },
    });
    if let Some(content) = content(&doc.takes) {
        operation["requestBody"] = json!({ "required": true, "content": content });
    }
    operation
}

fn parameters(doc: &RouteDoc) -> Vec<Value> {
    let mut parameters = Vec::new();
    let shapes = [
        ("id", json!({ "type": "string", "format": "uuid" })),
        ("team_id", json!({ "type": "string", "format": "uuid" })),
        ("member_id", json!({ "type": "string", "format": "uuid" })),
        ("code", json!({ "type": "string" })),
        ("number", Schema::Whole(1, 18).describe()),
    ];
    for (name, shape) in shapes {
        if doc.path.contains(&format!("{{{name}}}")) {
            parameters.push(json!({ "name": name, "in": "path", "required": true, "schema": shape }));
        }
    }
    for (name, meaning) in doc.query {
        let shape = shape_of(name).map_or_else(|| json!({ "type": "string" }), |schema| schema.describe());
        parameters.push(json!({ "name": name, "in": "query", "description": meaning, "schema": shape }));
    }
    if doc.keyed {
        let meaning = "A UUID, bare or in quotes: the same request under it gets the same answer again.";
        parameters.push(json!({
            "name": "Idempotency-Key", "in": "header", "description": meaning,
            "required": doc.path == "/events/{id}/rounds", "schema": { "type": "string" },
        }));
    }
    if doc.matched {
        let meaning = "The ETag of the version that is meant.";
        parameters.push(json!({
            "name": "If-Match", "in": "header", "description": meaning, "required": true,
            "schema": { "type": "string" },
        }));
    }
    parameters
}

/// Returns the shape of a query parameter whose name says it.
fn shape_of(name: &str) -> Option<Schema> {
    match name {
        "limit" => Some(Schema::Whole(1, 200)),
        "min_holes" => Some(crate::wire::body::putting::fewest_holes()),
        "after" => Some(Schema::Cursor),
        "validate_only" => Some(Schema::Flag),
        "after_event" | "season_id" | "member_id" | "event_id" | "setup_id" => Some(Schema::Id),
        "from" | "to" => Some(Schema::Date),
        _ => None,
    }
}

fn content(media: &Media) -> Option<Value> {
    Some(match media {
        Media::Nothing => return None,
        Media::Json(schema) => json!({ "application/json": { "schema": schema.describe() } }),
        Media::Patch(schema) => {
            let mut shape = schema.describe();
            shape["required"] = json!([]);
            json!({ "application/merge-patch+json": { "schema": shape.clone() }, "application/json": { "schema": shape } })
        }
        Media::Lines(schema) => json!({ "application/x-ndjson": one_after_another(schema) }),
        Media::JsonOrCsv(schema) => json!({
            "application/json": { "schema": schema.describe() },
            "text/csv": { "schema": { "type": "string" } },
        }),
        Media::Events(schema) => json!({ "text/event-stream": one_after_another(schema) }),
        Media::Csv => json!({ "text/csv": { "schema": { "type": "string" } } }),
        Media::Text => json!({ "text/plain": { "schema": { "type": "string" } } }),
    })
}

/// A text of many values. OpenAPI 3.1 has no word for the schema of one of them; `itemSchema` came with 3.2.
fn one_after_another(schema: &Schema) -> Value {
    json!({ "schema": { "type": "string" }, "x-item-schema": schema.describe() })
}

fn responses(doc: &RouteDoc) -> Value {
    let problem = |meaning: &str| {
        json!({
            "description": meaning,
            "content": { "application/problem+json": { "schema": { "$ref": "#/components/schemas/Problem" } } },
        })
    };
    let mut responses = Map::new();
    let mut success = json!({ "description": "Done." });
    if let Some(content) = content(&doc.answers) {
        success["content"] = content;
    }
    responses.insert(doc.status.to_string(), success.clone());
    let may_only_look = doc.query.iter().any(|(name, _)| *name == "validate_only");
    if doc.path == "/events/{id}/rounds" && doc.status == 201 || may_only_look {
        responses.insert("200".into(), success);
    }
    let is_revalidated = doc.path == "/events/{id}/board" || matches!(doc.answers, Media::JsonOrCsv(_));
    if is_revalidated {
        responses.insert("304".into(), json!({ "description": "You hold this state already." }));
    }
    let mut add = |status: &str, meaning: &str| {
        responses.insert(status.into(), problem(meaning));
    };
    add("400", "The request cannot be read.");
    add("414", "Path and query are longer than 8 KiB.");
    add("421", "The request names a host that the server does not answer for.");
    add("431", "The header fields are longer than 16 KiB.");
    add("503", "Busy: send it again.");
    if doc.access != Access::Anyone {
        add("401", "Not signed in.");
        add("429", "Asked too much.");
        if doc.method != actix_web::http::Method::GET {
            add("403", "A browser sent it from another site.");
        }
    }
    match doc.path {
        "/accounts" => {
            add("403", "Registration is closed, or needs an invitation.");
            add("404", "No such invitation.");
            add("410", "The invitation was used or has run out.");
            add("429", "Too many failures: wait.");
        }
        "/sessions" => {
            add("401", "The address or the password is wrong.");
            add("429", "Too many failures: wait.");
        }
        "/sessions/refresh" => add("401", "The token is not valid, or was used before: sign in."),
        _ => {}
    }
    if matches!(doc.answers, Media::JsonOrCsv(_)) {
        add("406", "It is JSON or CSV.");
    }
    if doc.path.contains('{') {
        add("404", "Nothing here, or not yours to know.");
    }
    if matches!(
        doc.access,
        Access::Organizer | Access::Owner | Access::OwnerOrOrganizer | Access::OtherMember | Access::Concerned
    ) {
        add("403", "In the league, but not allowed; or a browser sent it from another site.");
    }
    if !doc.query.is_empty() {
        add("422", "A parameter is out of range, or names nothing that is here.");
    }
    if !matches!(doc.takes, Media::Nothing) {
        add("413", "The body is too large.");
        add("415", "Another media type is needed.");
        add("422", "Fields or rules are broken, each named.");
    }
    if doc.method != actix_web::http::Method::GET {
        add("409", "The state of things forbids it.");
    }
    if doc.matched {
        add("412", "Changed in the meantime.");
        add("428", "If-Match is needed.");
    }
    if doc.path.starts_with("/invitations/") || doc.path.starts_with("/password-resets/") {
        add("410", "The code has been used or has expired.");
    }
    Value::Object(responses)
}
