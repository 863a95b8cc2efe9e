-- What is said of a finding now includes an organizer's first opinion, noted before names are shown. SQLite cannot widen
-- a CHECK, so the table is made anew.

CREATE TABLE finding_words_wider (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    finding_id  BLOB NOT NULL,
    kind        TEXT NOT NULL CHECK (kind IN ('statement', 'request', 'recusal', 'first_opinion')),
    member_id   BLOB,
    opinion     TEXT CHECK (opinion IN ('unfair_cause', 'honest_cause', 'cannot_say')),
    text        TEXT NOT NULL,
    due_at      TEXT,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, finding_id) REFERENCES findings (league_id, id),
    CHECK ((opinion IS NULL) = (kind <> 'first_opinion'))
) STRICT, WITHOUT ROWID;
INSERT INTO finding_words_wider (league_id, id, finding_id, kind, member_id, opinion, text, due_at, seq, received_at)
SELECT league_id, id, finding_id, kind, member_id, NULL, text, due_at, seq, received_at FROM finding_words;
DROP TABLE finding_words;
ALTER TABLE finding_words_wider RENAME TO finding_words;
CREATE INDEX finding_words_by_finding ON finding_words (league_id, finding_id);
