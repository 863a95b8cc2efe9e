//! Every route of the interface. The server, its description and the authorization test are made from this one list.

use super::openapi;
use crate::http::answer::Answer;
use crate::http::routes::{Access, Routes, reads};
use crate::wire::schema::Schema;
use actix_web::HttpResponse;
use actix_web::web::Bytes;
use serde_json::Value;
use std::sync::LazyLock;

/// Makes the whole list.
pub fn all() -> Routes {
    let mut routes = Routes::default();
    super::accounts::routes(&mut routes);
    super::passwords::routes(&mut routes);
    super::leagues::routes(&mut routes);
    super::members::routes(&mut routes);
    super::rosters::routes(&mut routes);
    super::addresses::routes(&mut routes);
    super::notices::routes(&mut routes);
    super::putting::routes(&mut routes);
    super::practice::routes(&mut routes);
    super::documents::routes(&mut routes);
    super::seasons::routes(&mut routes);
    super::competitions::routes(&mut routes);
    super::tables::routes(&mut routes);
    super::copies::routes(&mut routes);
    super::matches::routes(&mut routes);
    super::batches::routes(&mut routes);
    super::events::routes(&mut routes);
    super::side_contests::routes(&mut routes);
    super::rounds::routes(&mut routes);
    super::holes::routes(&mut routes);
    super::brought::routes(&mut routes);
    super::handicap_acts::routes(&mut routes);
    super::findings::routes(&mut routes);
    super::bundles::routes(&mut routes);
    super::pace::routes(&mut routes);
    let doc = reads("/openapi.json", "This description.", Access::Anyone, Schema::Anything);
    routes.add(doc, description);
    routes
}

/// The interface's own description.
pub static DOCUMENT: LazyLock<Value> = LazyLock::new(|| openapi::document(&all().docs));

static TEXT: LazyLock<Bytes> = LazyLock::new(|| DOCUMENT.to_string().into());

async fn description() -> Answer {
    Ok(HttpResponse::Ok().content_type("application/json").body(TEXT.clone()))
}
