-- Signed heads of journals: one for each hundred entries or day, and one where an event became final. `head` is the signed
-- text as JSON.

CREATE TABLE journal_heads (
    league_id BLOB NOT NULL REFERENCES leagues (id),
    n         INTEGER NOT NULL,
    at        TEXT NOT NULL,
    event_id  BLOB,
    head      TEXT NOT NULL,
    PRIMARY KEY (league_id, n)
) STRICT, WITHOUT ROWID;
