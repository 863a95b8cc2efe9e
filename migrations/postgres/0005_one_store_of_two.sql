-- What every server of this database shares: the key that tokens are signed with.

CREATE TABLE server_secrets (
    name   TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    secret TEXT COLLATE "C" NOT NULL
);
