//! The description is made from the routes that are served. That every answer has the shape and the status that it
//! promises is checked by the harness with every call.

use crate::support::harness::{docs, shared};
use evenfield::http::routes::Media;
use serde_json::Value;
use std::collections::BTreeSet;

/// A6: every route is described and every described route is served.
#[tokio::test]
async fn every_served_route_is_described_and_every_described_one_served() {
    let (api, cast) = shared().await;
    let document = api.get("/openapi.json").expect(200).await.json();
    assert_eq!(document["openapi"], "3.1.0");
    let mut described = BTreeSet::new();
    for (path, methods) in document["paths"].as_object().expect("paths") {
        for method in methods.as_object().expect("methods").keys() {
            described.insert((path.clone(), method.to_uppercase()));
        }
    }
    let served: BTreeSet<_> = docs().iter().map(|doc| (doc.path.to_owned(), doc.method.to_string())).collect();
    assert_eq!(described, served);
    // Black-box: a described path is there for the methods that it lists, and for no other.
    for (path, methods) in document["paths"].as_object().expect("paths") {
        let at = path
            .replace("{id}", "0198c2a4-2f7e-7d6b-9a1c-000000000001")
            .replace("{code}", "none")
            .replace("{number}", "1")
            .replace("{team_id}", "0198c2a4-2f7e-7d6b-9a1c-000000000002");
        let seen = api.call("OPTIONS", &at).by(&cast.ann).refused(405, "method-not-allowed").await;
        let mut due: BTreeSet<String> =
            methods.as_object().expect("methods").keys().map(|method| method.to_uppercase()).collect();
        if due.contains("GET") {
            due.insert("HEAD".into());
        }
        let allowed: BTreeSet<String> = seen.header("allow").split(", ").map(str::to_owned).collect();
        assert_eq!(allowed, due, "{path}");
    }
}

/// References lead somewhere, ids of operations are unique, and what needs a header says so.
#[tokio::test]
async fn the_description_holds_together() {
    let (api, _) = shared().await;
    let document = api.get("/openapi.json").expect(200).await.json();
    let schemas = document["components"]["schemas"].as_object().expect("schemas");
    let mut references = Vec::new();
    collect(&document, &mut references);
    assert!(!references.is_empty());
    for reference in references {
        let name = reference.strip_prefix("#/components/schemas/").expect("a local reference");
        assert!(schemas.contains_key(name), "{reference} leads nowhere; see Schema::names");
    }
    let mut operations = BTreeSet::new();
    for doc in docs() {
        let operation = &document["paths"][doc.path][doc.method.as_str().to_lowercase()];
        let id = operation["operationId"].as_str().expect("an id").to_owned();
        assert!(operations.insert(id.clone()), "{id} is given twice");
        assert!(operation["summary"].as_str().is_some_and(|summary| summary.ends_with('.')), "{id}");
        let parameters: Vec<&str> =
            operation["parameters"].as_array().expect("parameters").iter().filter_map(|p| p["name"].as_str()).collect();
        assert_eq!(parameters.contains(&"If-Match"), doc.matched, "{id}");
        assert_eq!(parameters.contains(&"Idempotency-Key"), doc.keyed, "{id}");
        for (name, _) in doc.query {
            assert!(parameters.contains(name), "{id} lacks {name}");
        }
        assert_eq!(operation.get("requestBody").is_some(), !matches!(doc.takes, Media::Nothing), "{id}");
    }
}

fn collect(value: &Value, found: &mut Vec<String>) {
    match value {
        Value::Object(fields) => {
            if let Some(reference) = fields.get("$ref").and_then(Value::as_str) {
                found.push(reference.to_owned());
            }
            fields.values().for_each(|value| collect(value, found));
        }
        Value::Array(items) => items.iter().for_each(|value| collect(value, found)),
        _ => {}
    }
}
