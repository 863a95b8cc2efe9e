//! Accounts and sessions.

use crate::wire::schema::{Field, Schema, field, optional};

/// A registration.
pub fn registration() -> Schema {
    Schema::Object(vec![
        field("email", Schema::Text(3, 254)),
        field("password", Schema::Text(1, 1024)),
        field("display_name", Schema::Name(80)),
        optional("invitation", Schema::Text(1, 64)),
    ])
}

/// A sign-in.
pub fn sign_in() -> Schema {
    Schema::Object(vec![field("email", Schema::Text(1, 254)), field("password", Schema::Text(1, 1024))])
}

/// A change of one's password.
pub fn password_change() -> Schema {
    Schema::Object(vec![field("current_password", Schema::Text(1, 1024)), field("new_password", Schema::Text(1, 1024))])
}

/// A new password.
pub fn password() -> Schema {
    Schema::Object(vec![field("password", Schema::Text(1, 1024))])
}

/// A refresh.
pub fn refresh() -> Schema {
    Schema::Object(vec![field("refresh_token", Schema::Text(1, 256))])
}

/// A pair of tokens.
pub fn tokens() -> Schema {
    Schema::Object(vec![
        field("access_token", Schema::Text(1, 4096)),
        field("token_type", Schema::Word(&["Bearer"])),
        field("expires_in_s", Schema::Whole(1, 86_400)),
        field("refresh_token", Schema::Text(1, 256)),
    ])
}

/// What a session was begun on, in words.
pub fn device() -> Schema {
    Schema::Name(60)
}

/// A session as its holder sees it.
pub fn session() -> Schema {
    Schema::Object(vec![
        field("id", Schema::Id),
        field("device", device()),
        field("created_at", Schema::Instant),
        field("last_used_at", Schema::Instant),
        field("is_current", Schema::Flag),
    ])
}

/// The fields of an account as shown.
pub fn account_fields() -> Vec<Field> {
    vec![field("id", Schema::Id), field("email", Schema::Text(3, 254)), field("display_name", Schema::Name(80))]
}
