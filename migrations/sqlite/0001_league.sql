-- Accounts and sessions.

CREATE TABLE accounts (
    id            BLOB NOT NULL PRIMARY KEY,
    email         TEXT NOT NULL UNIQUE,
    password_hash TEXT NOT NULL,
    display_name  TEXT NOT NULL,
    created_at    TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE sessions (
    id           BLOB NOT NULL PRIMARY KEY,
    account_id   BLOB NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    created_at   INTEGER NOT NULL,
    last_used_at INTEGER NOT NULL,
    ended_at     INTEGER
) STRICT, WITHOUT ROWID;
CREATE INDEX sessions_by_account ON sessions (account_id);

CREATE TABLE refresh_tokens (
    hash             BLOB NOT NULL PRIMARY KEY,
    session_id       BLOB NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    spent_at         INTEGER,
    successor_hash   BLOB,
    sealed_successor BLOB
) STRICT, WITHOUT ROWID;
CREATE INDEX refresh_tokens_by_session ON refresh_tokens (session_id);

-- Leagues. `seq` is the last number given to a raw fact; `book_mark` changes with everything that the derivation
-- knows of a league beside the cards; `journal_n` and `journal_hash` are the head of its journal.

CREATE TABLE leagues (
    id           BLOB NOT NULL PRIMARY KEY,
    name         TEXT NOT NULL,
    time_zone    TEXT NOT NULL,
    seq          INTEGER NOT NULL,
    book_mark    INTEGER NOT NULL,
    journal_n    INTEGER NOT NULL DEFAULT 0,
    journal_hash BLOB NOT NULL DEFAULT x'',
    version      INTEGER NOT NULL,
    created_seq  INTEGER NOT NULL,
    received_at  TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE members (
    league_id         BLOB NOT NULL REFERENCES leagues (id),
    id                BLOB NOT NULL,
    account_id        BLOB REFERENCES accounts (id) ON DELETE SET NULL,
    role              TEXT NOT NULL CHECK (role IN ('player', 'scorer', 'organizer')),
    display_name      TEXT NOT NULL,
    division          TEXT,
    starting_handicap INTEGER,
    earlier_starts    TEXT NOT NULL,
    erased_at         TEXT,
    version           INTEGER NOT NULL,
    seq               INTEGER NOT NULL,
    received_at       TEXT NOT NULL,
    PRIMARY KEY (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX members_by_id ON members (id);
CREATE UNIQUE INDEX members_by_account ON members (account_id, league_id) WHERE account_id IS NOT NULL;

CREATE TABLE invitations (
    code_hash  BLOB NOT NULL PRIMARY KEY,
    league_id  BLOB REFERENCES leagues (id),
    role       TEXT,
    member_id  BLOB,
    expires_at TEXT NOT NULL,
    created_by BLOB,
    spent_at   TEXT,
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;

-- What can be edited keeps its body here and its earlier bodies in `versions`.

CREATE TABLE courses (
    league_id   BLOB NOT NULL REFERENCES leagues (id),
    id          BLOB NOT NULL,
    version     INTEGER NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    body        TEXT NOT NULL,
    PRIMARY KEY (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX courses_by_id ON courses (id);

CREATE TABLE setups (
    league_id   BLOB NOT NULL REFERENCES leagues (id),
    id          BLOB NOT NULL,
    member_id   BLOB,
    version     INTEGER NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    body        TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX setups_by_id ON setups (id);

CREATE TABLE seasons (
    league_id   BLOB NOT NULL REFERENCES leagues (id),
    id          BLOB NOT NULL,
    version     INTEGER NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    body        TEXT NOT NULL,
    shown       INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX seasons_by_id ON seasons (id);

CREATE TABLE events (
    league_id   BLOB NOT NULL REFERENCES leagues (id),
    id          BLOB NOT NULL,
    season_id   BLOB NOT NULL,
    version     INTEGER NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    body        TEXT NOT NULL,
    shown       INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX events_by_id ON events (id);
CREATE INDEX events_by_season ON events (league_id, season_id);

CREATE TABLE versions (
    league_id   BLOB NOT NULL REFERENCES leagues (id),
    kind        TEXT NOT NULL,
    id          BLOB NOT NULL,
    version     INTEGER NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    replaced_by BLOB,
    reason      TEXT,
    body        TEXT NOT NULL,
    PRIMARY KEY (league_id, kind, id, version)
) STRICT, WITHOUT ROWID;

-- Rounds as they were handed in, hole by hole and putt by putt.

CREATE TABLE rounds (
    league_id          BLOB NOT NULL REFERENCES leagues (id),
    id                 BLOB NOT NULL,
    event_id           BLOB NOT NULL,
    member_id          BLOB NOT NULL,
    setup_id           BLOB,
    client_round_id    BLOB NOT NULL,
    first_body_hash    BLOB NOT NULL,
    played_on          TEXT NOT NULL,
    outcome            TEXT NOT NULL CHECK (outcome IN ('complete', 'no_return', 'disqualified')),
    state              TEXT NOT NULL
        CHECK (state IN ('submitted', 'attested', 'proposed', 'late', 'excluded', 'withdrawn')),
    declared_radius_ft REAL,
    version            INTEGER NOT NULL,
    seq                INTEGER NOT NULL,
    received_at        TEXT NOT NULL,
    version_seq        INTEGER NOT NULL,
    version_at         TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, event_id) REFERENCES events (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id),
    FOREIGN KEY (league_id, setup_id) REFERENCES setups (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX rounds_by_id ON rounds (id);
CREATE UNIQUE INDEX rounds_by_client_round_id ON rounds (league_id, member_id, client_round_id);
CREATE UNIQUE INDEX rounds_one_an_event ON rounds (league_id, event_id, member_id) WHERE state <> 'withdrawn';
CREATE INDEX rounds_by_seq ON rounds (league_id, seq);

CREATE TABLE holes (
    league_id      BLOB NOT NULL,
    round_id       BLOB NOT NULL,
    number         INTEGER NOT NULL,
    strokes        INTEGER,
    picked_up      INTEGER NOT NULL,
    not_played     INTEGER NOT NULL,
    putts_recorded INTEGER NOT NULL,
    putt_count     INTEGER,
    PRIMARY KEY (league_id, round_id, number),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE putts (
    league_id       BLOB NOT NULL,
    round_id        BLOB NOT NULL,
    hole            INTEGER NOT NULL,
    number          INTEGER NOT NULL,
    distance_ft     REAL NOT NULL,
    elevation_in    REAL,
    ball_speed_mph  REAL,
    start_line_deg  REAL,
    played_line_deg REAL,
    result          TEXT NOT NULL CHECK (result IN ('holed', 'missed', 'conceded')),
    PRIMARY KEY (league_id, round_id, hole, number),
    FOREIGN KEY (league_id, round_id, hole) REFERENCES holes (league_id, round_id, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE attestations (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    round_id    BLOB NOT NULL,
    member_id   BLOB,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE withdrawals (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    round_id    BLOB NOT NULL,
    member_id   BLOB,
    reason      TEXT,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE carried_differentials (
    league_id    BLOB NOT NULL,
    id           BLOB NOT NULL,
    member_id    BLOB NOT NULL,
    played_on    TEXT NOT NULL,
    differential INTEGER NOT NULL,
    source       TEXT NOT NULL,
    seq          INTEGER NOT NULL,
    received_at  TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE carried_results (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    season_id   BLOB NOT NULL,
    member_id   BLOB NOT NULL,
    label       TEXT NOT NULL,
    value       REAL NOT NULL,
    source      TEXT NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE events_kept (
    league_id   BLOB NOT NULL,
    event_id    BLOB NOT NULL,
    id          BLOB NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    body        TEXT NOT NULL,
    PRIMARY KEY (league_id, event_id),
    FOREIGN KEY (league_id, event_id) REFERENCES events (league_id, id)
) STRICT, WITHOUT ROWID;

-- Derived: one row a round, made afresh whenever something behind it changes. `figures` is null for a round that does
-- not count.

CREATE TABLE results (
    league_id BLOB NOT NULL,
    member_id BLOB NOT NULL,
    round_id  BLOB NOT NULL,
    season_id BLOB NOT NULL,
    event_id  BLOB NOT NULL,
    card      TEXT NOT NULL,
    putting   TEXT NOT NULL,
    figures   TEXT,
    PRIMARY KEY (league_id, member_id, round_id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX results_by_season ON results (league_id, season_id);
CREATE INDEX results_by_event ON results (league_id, event_id);
CREATE UNIQUE INDEX results_by_round ON results (round_id);

-- The record of every change. Each entry's hash covers the one before it.

CREATE TABLE journal (
    league_id BLOB NOT NULL REFERENCES leagues (id),
    n         INTEGER NOT NULL,
    entry     TEXT NOT NULL,
    hash      BLOB NOT NULL,
    PRIMARY KEY (league_id, n)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER journal_never_changes BEFORE UPDATE ON journal BEGIN
    SELECT RAISE(ABORT, 'the journal is append-only');
END;
CREATE TRIGGER journal_never_shrinks BEFORE DELETE ON journal BEGIN
    SELECT RAISE(ABORT, 'the journal is append-only');
END;

CREATE TABLE idempotency_keys (
    account_id BLOB NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    operation  TEXT NOT NULL,
    key        BLOB NOT NULL,
    body_hash  BLOB NOT NULL,
    status     INTEGER NOT NULL,
    reply      TEXT NOT NULL,
    etag       TEXT,
    location   TEXT,
    created_at INTEGER NOT NULL,
    PRIMARY KEY (account_id, operation, key)
) STRICT, WITHOUT ROWID;
