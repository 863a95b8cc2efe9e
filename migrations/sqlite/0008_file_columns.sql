-- What the columns of a set-up's files mean, as a member said it last. It is the member's own: no number of the
-- league's, no entry in its journal, no line in its bundle.

CREATE TABLE file_columns (
    league_id  BLOB NOT NULL,
    member_id  BLOB NOT NULL,
    setup_id   BLOB NOT NULL,
    updated_at TEXT NOT NULL,
    body       TEXT NOT NULL,
    PRIMARY KEY (league_id, member_id, setup_id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id),
    FOREIGN KEY (league_id, setup_id) REFERENCES setups (league_id, id)
) STRICT, WITHOUT ROWID;
