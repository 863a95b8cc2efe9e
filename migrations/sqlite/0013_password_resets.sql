-- Codes that let the holder of an account choose a new password: made by the operator, used once. Only their hashes are
-- kept.

CREATE TABLE password_resets (
    code_hash  BLOB NOT NULL PRIMARY KEY,
    account_id BLOB NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    expires_at TEXT NOT NULL,
    spent_at   TEXT
) STRICT, WITHOUT ROWID;
CREATE INDEX password_resets_by_account ON password_resets (account_id);
