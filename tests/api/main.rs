//! The interface over HTTP: the real server in this process, a fresh database, a clock that stands still.

mod accounts;
mod acts_on_pages;
mod asking_pages;
mod authorization;
mod backup;
mod batches;
mod bring_file;
mod conflicts;
mod corrections;
mod damage;
mod demo;
mod desk_pages;
mod erasure;
mod event_end_pages;
mod events;
mod evidence_writes;
mod findings;
mod harness;
mod headers;
mod idempotency;
mod journal_bundle;
mod journal_heads;
mod kept_pages;
mod life;
mod marks;
mod members;
mod openapi;
mod pages;
mod panics;
mod passwords;
mod player_page;
mod practice;
mod putting;
mod reference;
mod rounds;
mod ruling_pages;
mod season_story;
mod seasons;
mod servers;
#[path = "../serving/mod.rs"]
mod serving;
mod signing_keys;
#[path = "../store/mod.rs"]
mod store;
mod transport;
mod validation;
