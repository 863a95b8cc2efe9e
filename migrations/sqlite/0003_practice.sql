-- Practice: putts outside any round. It is the member's alone: no number of the league's, no entry in its journal, no
-- line in its bundle.

CREATE TABLE practice_blocks (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    member_id   BLOB NOT NULL,
    setup_id    BLOB,
    played_on   TEXT NOT NULL,
    stimp_ft    REAL NOT NULL,
    received_at TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id),
    FOREIGN KEY (league_id, setup_id) REFERENCES setups (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX practice_blocks_by_member ON practice_blocks (league_id, member_id, id);

CREATE TABLE practice_putts (
    league_id       BLOB NOT NULL,
    block_id        BLOB NOT NULL,
    number          INTEGER NOT NULL,
    distance_ft     REAL NOT NULL,
    elevation_in    REAL,
    ball_speed_mph  REAL,
    start_line_deg  REAL,
    played_line_deg REAL,
    result          TEXT NOT NULL CHECK (result IN ('holed', 'missed')),
    leave_ft        REAL,
    PRIMARY KEY (league_id, block_id, number),
    FOREIGN KEY (league_id, block_id) REFERENCES practice_blocks (league_id, id) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
