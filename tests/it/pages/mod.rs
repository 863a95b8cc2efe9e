//! What a browser is sent, and what its forms do.

mod acts;
mod addresses;
mod asking;
mod bring_file;
mod browsers;
mod carried;
pub mod desk;
mod entries;
mod event_end;
mod handicap_acts;
mod kept;
mod matches;
mod organize;
mod player;
mod ruling;
mod side_contests;
