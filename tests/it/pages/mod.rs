//! What a browser is sent, and what its forms do.

mod acts;
mod addresses;
mod adjustments;
mod asking;
mod bring_file;
mod browsers;
mod carried;
mod competition_edit;
pub mod desk;
mod entries;
mod event_end;
mod handicap_acts;
mod kept;
mod matches;
mod nights_end;
mod organize;
mod player;
mod putting_table;
mod ruling;
mod side_contests;
