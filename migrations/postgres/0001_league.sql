-- Accounts and sessions.

CREATE TABLE accounts (
    id            UUID NOT NULL PRIMARY KEY,
    email         TEXT COLLATE "C" NOT NULL UNIQUE,
    password_hash TEXT COLLATE "C" NOT NULL,
    display_name  TEXT COLLATE "C" NOT NULL,
    created_at    TEXT COLLATE "C" NOT NULL
);

CREATE TABLE sessions (
    id           UUID NOT NULL PRIMARY KEY,
    account_id   UUID NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    created_at   BIGINT NOT NULL,
    last_used_at BIGINT NOT NULL,
    ended_at     BIGINT
);
CREATE INDEX sessions_by_account ON sessions (account_id);

CREATE TABLE refresh_tokens (
    hash             BYTEA NOT NULL PRIMARY KEY,
    session_id       UUID NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    spent_at         BIGINT,
    successor_hash   BYTEA,
    sealed_successor BYTEA
);
CREATE INDEX refresh_tokens_by_session ON refresh_tokens (session_id);

-- Leagues. `seq` is the last number given to a raw fact; `book_mark` changes with everything that the derivation
-- knows of a league beside the cards; `journal_n` and `journal_hash` are the head of its journal.

CREATE TABLE leagues (
    id           UUID NOT NULL PRIMARY KEY,
    name         TEXT COLLATE "C" NOT NULL,
    time_zone    TEXT COLLATE "C" NOT NULL,
    seq          BIGINT NOT NULL,
    book_mark    BIGINT NOT NULL,
    journal_n    BIGINT NOT NULL DEFAULT 0,
    journal_hash BYTEA NOT NULL DEFAULT '',
    version      BIGINT NOT NULL,
    created_seq  BIGINT NOT NULL,
    received_at  TEXT COLLATE "C" NOT NULL
);

CREATE TABLE members (
    league_id         UUID NOT NULL REFERENCES leagues (id),
    id                UUID NOT NULL,
    account_id        UUID REFERENCES accounts (id) ON DELETE SET NULL,
    role              TEXT COLLATE "C" NOT NULL CHECK (role IN ('player', 'scorer', 'organizer')),
    display_name      TEXT COLLATE "C" NOT NULL,
    division          TEXT COLLATE "C",
    starting_handicap BIGINT,
    earlier_starts    TEXT COLLATE "C" NOT NULL,
    erased_at         TEXT COLLATE "C",
    version           BIGINT NOT NULL,
    seq               BIGINT NOT NULL,
    received_at       TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id)
);
CREATE UNIQUE INDEX members_by_id ON members (id);
CREATE UNIQUE INDEX members_by_account ON members (account_id, league_id) WHERE account_id IS NOT NULL;

CREATE TABLE invitations (
    code_hash  BYTEA NOT NULL PRIMARY KEY,
    league_id  UUID REFERENCES leagues (id),
    role       TEXT COLLATE "C",
    member_id  UUID,
    expires_at TEXT COLLATE "C" NOT NULL,
    created_by UUID,
    spent_at   TEXT COLLATE "C",
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);

-- What can be edited keeps its body here and its earlier bodies in `versions`.

CREATE TABLE courses (
    league_id   UUID NOT NULL REFERENCES leagues (id),
    id          UUID NOT NULL,
    version     BIGINT NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    body        TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id)
);
CREATE UNIQUE INDEX courses_by_id ON courses (id);

CREATE TABLE setups (
    league_id   UUID NOT NULL REFERENCES leagues (id),
    id          UUID NOT NULL,
    member_id   UUID,
    version     BIGINT NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    body        TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);
CREATE UNIQUE INDEX setups_by_id ON setups (id);

CREATE TABLE seasons (
    league_id   UUID NOT NULL REFERENCES leagues (id),
    id          UUID NOT NULL,
    version     BIGINT NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    body        TEXT COLLATE "C" NOT NULL,
    shown       BIGINT NOT NULL DEFAULT 0,
    PRIMARY KEY (league_id, id)
);
CREATE UNIQUE INDEX seasons_by_id ON seasons (id);

CREATE TABLE events (
    league_id   UUID NOT NULL REFERENCES leagues (id),
    id          UUID NOT NULL,
    season_id   UUID NOT NULL,
    version     BIGINT NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    body        TEXT COLLATE "C" NOT NULL,
    shown       BIGINT NOT NULL DEFAULT 0,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
);
CREATE UNIQUE INDEX events_by_id ON events (id);
CREATE INDEX events_by_season ON events (league_id, season_id);

CREATE TABLE versions (
    league_id   UUID NOT NULL REFERENCES leagues (id),
    kind        TEXT COLLATE "C" NOT NULL,
    id          UUID NOT NULL,
    version     BIGINT NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    replaced_by UUID,
    reason      TEXT COLLATE "C",
    body        TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, kind, id, version)
);

-- Rounds as they were handed in, hole by hole and putt by putt.

CREATE TABLE rounds (
    league_id          UUID NOT NULL REFERENCES leagues (id),
    id                 UUID NOT NULL,
    event_id           UUID NOT NULL,
    member_id          UUID NOT NULL,
    setup_id           UUID,
    client_round_id    UUID NOT NULL,
    first_body_hash    BYTEA NOT NULL,
    played_on          TEXT COLLATE "C" NOT NULL,
    outcome            TEXT COLLATE "C" NOT NULL CHECK (outcome IN ('complete', 'no_return', 'disqualified')),
    state              TEXT COLLATE "C" NOT NULL
        CHECK (state IN ('submitted', 'attested', 'proposed', 'late', 'excluded', 'withdrawn')),
    declared_radius_ft DOUBLE PRECISION,
    version            BIGINT NOT NULL,
    seq                BIGINT NOT NULL,
    received_at        TEXT COLLATE "C" NOT NULL,
    version_seq        BIGINT NOT NULL,
    version_at         TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, event_id) REFERENCES events (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id),
    FOREIGN KEY (league_id, setup_id) REFERENCES setups (league_id, id)
) PARTITION BY HASH (league_id);
CREATE UNIQUE INDEX rounds_by_client_round_id ON rounds (league_id, member_id, client_round_id);
CREATE UNIQUE INDEX rounds_one_an_event ON rounds (league_id, event_id, member_id) WHERE state <> 'withdrawn';
CREATE INDEX rounds_by_seq ON rounds (league_id, seq);

CREATE TABLE holes (
    league_id      UUID NOT NULL,
    round_id       UUID NOT NULL,
    number         BIGINT NOT NULL,
    strokes        BIGINT,
    picked_up      BOOLEAN NOT NULL,
    not_played     BOOLEAN NOT NULL,
    putts_recorded BOOLEAN NOT NULL,
    putt_count     BIGINT,
    PRIMARY KEY (league_id, round_id, number),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
) PARTITION BY HASH (league_id);

CREATE TABLE putts (
    league_id       UUID NOT NULL,
    round_id        UUID NOT NULL,
    hole            BIGINT NOT NULL,
    number          BIGINT NOT NULL,
    distance_ft     DOUBLE PRECISION NOT NULL,
    elevation_in    DOUBLE PRECISION,
    ball_speed_mph  DOUBLE PRECISION,
    start_line_deg  DOUBLE PRECISION,
    played_line_deg DOUBLE PRECISION,
    result          TEXT COLLATE "C" NOT NULL CHECK (result IN ('holed', 'missed', 'conceded')),
    PRIMARY KEY (league_id, round_id, hole, number),
    FOREIGN KEY (league_id, round_id, hole) REFERENCES holes (league_id, round_id, number)
) PARTITION BY HASH (league_id);

-- A league's rounds, holes and putts lie in one of sixteen partitions. Whoever has a round's id alone learns its league
-- here first; across partitions this is also what keeps ids apart.

DO $$
BEGIN
    FOR n IN 0..15 LOOP
        EXECUTE format('CREATE TABLE rounds_%s PARTITION OF rounds FOR VALUES WITH (MODULUS 16, REMAINDER %s)', n, n);
        EXECUTE format('CREATE TABLE holes_%s PARTITION OF holes FOR VALUES WITH (MODULUS 16, REMAINDER %s)', n, n);
        EXECUTE format('CREATE TABLE putts_%s PARTITION OF putts FOR VALUES WITH (MODULUS 16, REMAINDER %s)', n, n);
    END LOOP;
END $$;

CREATE TABLE round_leagues (
    round_id  UUID NOT NULL PRIMARY KEY,
    league_id UUID NOT NULL
);
CREATE FUNCTION round_has_a_league() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO round_leagues (round_id, league_id) VALUES (NEW.id, NEW.league_id);
    RETURN NULL;
END $$;
CREATE TRIGGER round_has_a_league AFTER INSERT ON rounds FOR EACH ROW EXECUTE FUNCTION round_has_a_league();

CREATE TABLE attestations (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    round_id    UUID NOT NULL,
    member_id   UUID,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
);

CREATE TABLE withdrawals (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    round_id    UUID NOT NULL,
    member_id   UUID,
    reason      TEXT COLLATE "C",
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
);

CREATE TABLE carried_differentials (
    league_id    UUID NOT NULL,
    id           UUID NOT NULL,
    member_id    UUID NOT NULL,
    played_on    TEXT COLLATE "C" NOT NULL,
    differential BIGINT NOT NULL,
    source       TEXT COLLATE "C" NOT NULL,
    seq          BIGINT NOT NULL,
    received_at  TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);

CREATE TABLE carried_results (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    season_id   UUID NOT NULL,
    member_id   UUID NOT NULL,
    label       TEXT COLLATE "C" NOT NULL,
    value       DOUBLE PRECISION NOT NULL,
    source      TEXT COLLATE "C" NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);

CREATE TABLE events_kept (
    league_id   UUID NOT NULL,
    event_id    UUID NOT NULL,
    id          UUID NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    body        TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, event_id),
    FOREIGN KEY (league_id, event_id) REFERENCES events (league_id, id)
);

-- Derived: one row a round, made afresh whenever something behind it changes. `figures` is null for a round that does
-- not count.

CREATE TABLE results (
    league_id UUID NOT NULL,
    member_id UUID NOT NULL,
    round_id  UUID NOT NULL,
    season_id UUID NOT NULL,
    event_id  UUID NOT NULL,
    card      TEXT COLLATE "C" NOT NULL,
    putting   TEXT COLLATE "C" NOT NULL,
    figures   TEXT COLLATE "C",
    PRIMARY KEY (league_id, member_id, round_id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
);
CREATE INDEX results_by_season ON results (league_id, season_id);
CREATE INDEX results_by_event ON results (league_id, event_id);
CREATE UNIQUE INDEX results_by_round ON results (round_id);

-- The record of every change. Each entry's hash covers the one before it.

CREATE TABLE journal (
    league_id UUID NOT NULL REFERENCES leagues (id),
    n         BIGINT NOT NULL,
    entry     TEXT COLLATE "C" NOT NULL,
    hash      BYTEA NOT NULL,
    PRIMARY KEY (league_id, n)
);
CREATE FUNCTION journal_is_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'the journal is append-only';
END $$;
CREATE TRIGGER journal_never_changes BEFORE UPDATE OR DELETE ON journal
    FOR EACH ROW EXECUTE FUNCTION journal_is_append_only();
CREATE TRIGGER journal_never_shrinks BEFORE TRUNCATE ON journal
    FOR EACH STATEMENT EXECUTE FUNCTION journal_is_append_only();

CREATE TABLE idempotency_keys (
    account_id UUID NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    operation  TEXT COLLATE "C" NOT NULL,
    key        UUID NOT NULL,
    body_hash  BYTEA NOT NULL,
    status     BIGINT NOT NULL,
    reply      TEXT COLLATE "C" NOT NULL,
    etag       TEXT COLLATE "C",
    location   TEXT COLLATE "C",
    created_at BIGINT NOT NULL,
    PRIMARY KEY (account_id, operation, key)
);
