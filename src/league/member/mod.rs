//! Members and what is theirs: the record, invitations, practice, putting, notices.

pub mod bring_along;
pub mod change;
pub mod file_columns;
pub mod handicap_act;
pub mod invite;
pub mod notices;
pub mod open_invitations;
pub mod practice;
pub mod putting;
pub mod roster;
