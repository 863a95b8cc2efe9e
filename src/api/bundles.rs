//! A whole league as a bundle.

use crate::domain::ids::LeagueId;
use crate::http::address::IdPath;
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::downloads;
use crate::http::routes::{Access, Media, RouteDoc, Routes, reads};
use crate::league::Caller;
use crate::wire::schema::Schema;
use actix_web::web::Data;

async fn bundle(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    downloads::whole_league(&app, caller, LeagueId(id.0)).await
}

/// The routes of this file.
pub fn routes(routes: &mut Routes) {
    let doc = reads("/leagues/{id}/bundle", "The whole league as a bundle.", Access::Organizer, Schema::Anything);
    routes.add(RouteDoc { answers: Media::Lines(Schema::Anything), ..doc }, bundle);
}
