-- Codes that let the holder of an account choose a new password: made by the operator, used once. Only their hashes are
-- kept.

CREATE TABLE password_resets (
    code_hash  BYTEA NOT NULL PRIMARY KEY,
    account_id UUID NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    expires_at TEXT COLLATE "C" NOT NULL,
    spent_at   TEXT COLLATE "C"
);
CREATE INDEX password_resets_by_account ON password_resets (account_id);
