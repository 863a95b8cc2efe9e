//! Setting up a league and running its year without a terminal: a file for each thing that an organizer looks after.

mod copies;
mod courses;
mod desk;
mod events;
mod invitations;
mod journal;
mod league;
mod member;
mod other_tees;
mod roster;
mod seasons;
mod setups;
mod tables;

use actix_web::web::ServiceConfig;

/// The routes of these files.
pub fn serve(config: &mut ServiceConfig) {
    config
        .configure(league::routes)
        .configure(invitations::routes)
        .configure(roster::routes)
        .configure(member::routes)
        .configure(setups::routes)
        .configure(courses::routes)
        .configure(seasons::routes)
        .configure(events::routes)
        .configure(copies::routes)
        .configure(tables::routes)
        .configure(journal::routes);
}
