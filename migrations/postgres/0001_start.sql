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
    ended_at     BIGINT,
    device       TEXT COLLATE "C" NOT NULL,
    is_browser   BOOLEAN NOT NULL
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

-- What an account's holder is told about the account itself, whatever leagues it is in.

CREATE TABLE account_notices (
    id         UUID NOT NULL PRIMARY KEY,
    account_id UUID NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    kind       TEXT COLLATE "C" NOT NULL,
    device     TEXT COLLATE "C" NOT NULL,
    at         TEXT COLLATE "C" NOT NULL,
    seen_at    TEXT COLLATE "C"
);
CREATE INDEX account_notices_by_account ON account_notices (account_id, id);

-- Codes that let the holder of an account choose a new password: made by the operator, used once. Only their hashes are
-- kept.

CREATE TABLE password_resets (
    code_hash  BYTEA NOT NULL PRIMARY KEY,
    account_id UUID NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    expires_at TEXT COLLATE "C" NOT NULL,
    spent_at   TEXT COLLATE "C"
);
CREATE INDEX password_resets_by_account ON password_resets (account_id);

-- Leagues. `seq` is the last number given to a raw fact; `book_mark` changes with everything that the derivation
-- knows of a league beside the cards; `journal_n` and `journal_hash` are the head of its journal; `weighed_seq` is the
-- number of the last fact up to which counting rounds are in the evidence.

CREATE TABLE leagues (
    id           UUID NOT NULL PRIMARY KEY,
    name         TEXT COLLATE "C" NOT NULL,
    time_zone    TEXT COLLATE "C" NOT NULL,
    seq          BIGINT NOT NULL,
    book_mark    BIGINT NOT NULL,
    journal_n    BIGINT NOT NULL DEFAULT 0,
    journal_hash BYTEA NOT NULL DEFAULT '',
    weighed_seq  BIGINT NOT NULL DEFAULT 0,
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
    flight            TEXT COLLATE "C",
    starting_handicap BIGINT,
    guest             BOOLEAN NOT NULL,
    earlier_starts    TEXT COLLATE "C" NOT NULL,
    erased_at         TEXT COLLATE "C",
    version           BIGINT NOT NULL,
    seq               BIGINT NOT NULL,
    received_at       TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id)
);
CREATE UNIQUE INDEX members_by_id ON members (id);
CREATE UNIQUE INDEX members_by_account ON members (account_id, league_id) WHERE account_id IS NOT NULL;

-- An invitation has an id beside its code, which is not kept, so that it can be listed and revoked.

CREATE TABLE invitations (
    code_hash  BYTEA NOT NULL PRIMARY KEY,
    id         UUID NOT NULL,
    league_id  UUID REFERENCES leagues (id),
    role       TEXT COLLATE "C",
    member_id  UUID,
    finding_id UUID,
    expires_at TEXT COLLATE "C" NOT NULL,
    created_by UUID,
    spent_at   TEXT COLLATE "C",
    revoked_at TEXT COLLATE "C",
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);
CREATE UNIQUE INDEX invitations_by_id ON invitations (id);
CREATE INDEX invitations_by_league ON invitations (league_id, id);

-- Addresses that whoever knows them may read without an account: a league's public pages, or a member's calendar. Only
-- hashes of their codes are kept.

CREATE TABLE secret_addresses (
    code_hash  BYTEA NOT NULL PRIMARY KEY,
    id         UUID NOT NULL,
    league_id  UUID NOT NULL REFERENCES leagues (id),
    kind       TEXT COLLATE "C" NOT NULL CHECK (kind IN ('public', 'calendar')),
    names      TEXT COLLATE "C" CHECK (names IN ('full', 'initials')),
    member_id  UUID NOT NULL,
    created_at TEXT COLLATE "C" NOT NULL,
    revoked_at TEXT COLLATE "C",
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);
CREATE UNIQUE INDEX secret_addresses_by_id ON secret_addresses (id);
CREATE INDEX secret_addresses_by_league ON secret_addresses (league_id, id);

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

CREATE TABLE competitions (
    league_id   UUID NOT NULL REFERENCES leagues (id),
    id          UUID NOT NULL,
    season_id   UUID NOT NULL,
    version     BIGINT NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    body        TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
);
CREATE UNIQUE INDEX competitions_by_id ON competitions (id);

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

CREATE TABLE season_facts (
    league_id   UUID NOT NULL REFERENCES leagues (id),
    id          UUID NOT NULL,
    season_id   UUID NOT NULL,
    kind        TEXT COLLATE "C" NOT NULL,
    of_id       UUID NOT NULL,
    event_id    UUID,
    version     BIGINT NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    body        TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
);
CREATE UNIQUE INDEX season_facts_by_id ON season_facts (id);

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
    sent_by            UUID,
    proposed           BOOLEAN NOT NULL DEFAULT FALSE,
    late               BOOLEAN NOT NULL DEFAULT FALSE,
    putts_excluded     BOOLEAN NOT NULL DEFAULT FALSE,
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
    PRIMARY KEY (league_id, round_id, number)
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
    PRIMARY KEY (league_id, round_id, hole, number)
) PARTITION BY HASH (league_id);

-- A league's rounds, holes and putts lie in one of sixteen partitions. Whoever has a round's id alone learns its league
-- here first; across partitions this is also what keeps ids apart. Holes and putts lie in the partition of the same number
-- as their round. Each references its neighbour there, which is found without a look at the other fifteen.

DO $$
BEGIN
    FOR n IN 0..15 LOOP
        EXECUTE format('CREATE TABLE rounds_%s PARTITION OF rounds FOR VALUES WITH (MODULUS 16, REMAINDER %s)', n, n);
        EXECUTE format('CREATE TABLE holes_%s PARTITION OF holes FOR VALUES WITH (MODULUS 16, REMAINDER %s)', n, n);
        EXECUTE format('CREATE TABLE putts_%s PARTITION OF putts FOR VALUES WITH (MODULUS 16, REMAINDER %s)', n, n);
        EXECUTE format(
            'ALTER TABLE holes_%s ADD FOREIGN KEY (league_id, round_id) REFERENCES rounds_%s (league_id, id)', n, n);
        EXECUTE format(
            'ALTER TABLE putts_%s ADD FOREIGN KEY (league_id, round_id, hole) '
            'REFERENCES holes_%s (league_id, round_id, number)', n, n);
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
CREATE INDEX attestations_by_round ON attestations (league_id, round_id);

CREATE TABLE acceptances (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    round_id    UUID NOT NULL,
    member_id   UUID,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
);
CREATE UNIQUE INDEX acceptances_by_round ON acceptances (league_id, round_id);

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
CREATE INDEX withdrawals_by_round ON withdrawals (league_id, round_id);

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

CREATE TABLE handicap_acts (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    member_id   UUID NOT NULL,
    decided     TEXT COLLATE "C" NOT NULL,
    reason      TEXT COLLATE "C" NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);

CREATE TABLE carried_results (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    season_id   UUID NOT NULL,
    member_id   UUID,
    team_id     UUID,
    competition_id UUID,
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

-- Derived: one row a round, made afresh whenever something behind it changes. `card`, `putting` and `figures` are packed
-- (src/storage/packed.rs); `figures` is null for a round that does not count. They carry a stamp that changes whenever they
-- do, so that whoever remembers them reads only what moved.

CREATE TABLE results (
    league_id UUID NOT NULL,
    member_id UUID NOT NULL,
    round_id  UUID NOT NULL,
    event_id  UUID NOT NULL,
    card      BYTEA NOT NULL,
    putting   BYTEA NOT NULL,
    figures   BYTEA,
    stamp     BIGINT,
    PRIMARY KEY (league_id, member_id, round_id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
);
CREATE INDEX results_by_event ON results (league_id, event_id, stamp);

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

-- Signed heads of journals: one for each hundred entries or day, and one where an event became final. `head` is the signed
-- text as JSON.

CREATE TABLE journal_heads (
    league_id UUID NOT NULL REFERENCES leagues (id),
    n         BIGINT NOT NULL,
    at        TEXT COLLATE "C" NOT NULL,
    event_id  UUID,
    head      TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, n)
);

-- Rulings, and the rounds that each touches. A correction keeps the number of the version that it
-- replaced.

CREATE TABLE rulings (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    member_id   UUID,
    finding_id  UUID,
    decision    TEXT COLLATE "C" NOT NULL
        CHECK (decision IN ('correct', 'exclude_round', 'reinstate', 'exclude_putts', 'no_action')),
    reason      TEXT COLLATE "C" NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id)
);

CREATE TABLE ruled_rounds (
    league_id        UUID NOT NULL,
    ruling_id        UUID NOT NULL,
    round_id         UUID NOT NULL,
    replaced_version BIGINT,
    PRIMARY KEY (league_id, ruling_id, round_id),
    FOREIGN KEY (league_id, ruling_id) REFERENCES rulings (league_id, id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
);
CREATE INDEX ruled_rounds_by_round ON ruled_rounds (league_id, round_id);

-- Doubts about a card, and their answers.

CREATE TABLE queries (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    round_id    UUID NOT NULL,
    member_id   UUID NOT NULL,
    pointer     TEXT COLLATE "C",
    text        TEXT COLLATE "C" NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);
CREATE UNIQUE INDEX queries_by_id ON queries (id);
CREATE INDEX queries_by_round ON queries (league_id, round_id);

CREATE TABLE answers (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    query_id    UUID NOT NULL,
    member_id   UUID NOT NULL,
    text        TEXT COLLATE "C" NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, query_id) REFERENCES queries (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);
CREATE INDEX answers_by_query ON answers (league_id, query_id);

-- Who plays, and cards in play: a card in play goes when its round comes in.

CREATE TABLE entrants (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    event_id    UUID NOT NULL,
    member_id   UUID NOT NULL,
    slot        TEXT COLLATE "C",
    bay         TEXT COLLATE "C",
    competitions TEXT NOT NULL,
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, event_id) REFERENCES events (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);
CREATE UNIQUE INDEX entrants_by_id ON entrants (id);
CREATE UNIQUE INDEX entrants_one_an_event ON entrants (league_id, event_id, member_id);

CREATE TABLE cards_in_play (
    league_id  UUID NOT NULL,
    event_id   UUID NOT NULL,
    member_id  UUID NOT NULL,
    version    BIGINT NOT NULL,
    updated_at TEXT COLLATE "C" NOT NULL,
    body       TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, event_id, member_id),
    FOREIGN KEY (league_id, event_id) REFERENCES events (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);

-- What concerns a member.

CREATE TABLE notices (
    league_id  UUID NOT NULL,
    id         UUID NOT NULL,
    member_id  UUID NOT NULL,
    kind       TEXT COLLATE "C" NOT NULL,
    round_id   UUID,
    query_id   UUID,
    finding_id UUID,
    event_id   UUID,
    at         TEXT COLLATE "C" NOT NULL,
    seen_at    TEXT COLLATE "C",
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);
CREATE UNIQUE INDEX notices_by_id ON notices (id);
CREATE INDEX notices_by_member ON notices (league_id, member_id, id);

-- What moved a season's table, other than a round handed in on time: who, when, why, and which rows.

CREATE TABLE standings_changes (
    league_id UUID NOT NULL,
    season_id UUID NOT NULL,
    id        UUID NOT NULL,
    at        TEXT COLLATE "C" NOT NULL,
    member_id UUID,
    act       TEXT COLLATE "C" NOT NULL,
    kind      TEXT COLLATE "C" NOT NULL,
    thing_id  UUID NOT NULL,
    reason    TEXT COLLATE "C",
    moves     TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, season_id, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
);

-- Derived: a season's evidence. `state` holds one player's rounds on one set-up (`setup_id` is nil where nobody said), packed
-- (src/storage/packed_evidence.rs), a row of each kind. What begins anew for a kind and somebody after a ruling is a row
-- beside it: `kind`, `about` and `restart` tell which.

CREATE TABLE evidence_rows (
    league_id UUID NOT NULL,
    season_id UUID NOT NULL,
    member_id UUID NOT NULL,
    setup_id  UUID NOT NULL,
    kind      TEXT COLLATE "C" NOT NULL,
    about     TEXT COLLATE "C" NOT NULL CHECK (about IN ('', 'player', 'setup')),
    restart   BIGINT NOT NULL,
    state     BYTEA NOT NULL,
    PRIMARY KEY (league_id, season_id, member_id, setup_id, kind, about, restart),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
);
CREATE INDEX evidence_rows_by_setup ON evidence_rows (league_id, season_id, setup_id, kind);

CREATE TABLE evidence_digests (
    league_id UUID NOT NULL,
    season_id UUID NOT NULL,
    setup_id  UUID NOT NULL,
    kind      TEXT COLLATE "C" NOT NULL,
    restart   BIGINT NOT NULL,
    digest    TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, season_id, setup_id, kind, restart),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
);

-- Who and what played in a season, whatever became of the rounds: the budget of false alarms is shared among them.

CREATE TABLE evidence_field (
    league_id UUID NOT NULL,
    season_id UUID NOT NULL,
    about     TEXT COLLATE "C" NOT NULL CHECK (about IN ('player', 'setup')),
    id        UUID NOT NULL,
    PRIMARY KEY (league_id, season_id, about, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
);

-- Findings: that evidence crossed its threshold is a fact that stays when evidence falls.

CREATE TABLE findings (
    league_id       UUID NOT NULL,
    id              UUID NOT NULL,
    season_id       UUID NOT NULL,
    kind            TEXT COLLATE "C" NOT NULL,
    member_id       UUID,
    setup_id        UUID,
    restart         BIGINT NOT NULL,
    event_id        UUID NOT NULL,
    factor_log10    DOUBLE PRECISION NOT NULL,
    threshold_log10 DOUBLE PRECISION NOT NULL,
    seq             BIGINT NOT NULL,
    received_at     TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id),
    FOREIGN KEY (league_id, event_id) REFERENCES events (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id),
    FOREIGN KEY (league_id, setup_id) REFERENCES setups (league_id, id)
);
CREATE UNIQUE INDEX findings_by_id ON findings (id);
CREATE INDEX findings_by_setup ON findings (league_id, season_id, setup_id);

-- Whom a finding concerns: told when the notice was stored, or when an organizer noted having said it.

CREATE TABLE finding_concerned (
    league_id  UUID NOT NULL,
    finding_id UUID NOT NULL,
    member_id  UUID NOT NULL,
    told_at    TEXT COLLATE "C",
    told_by    UUID,
    seen_at    TEXT COLLATE "C",
    PRIMARY KEY (league_id, finding_id, member_id),
    FOREIGN KEY (league_id, finding_id) REFERENCES findings (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
);
CREATE INDEX finding_concerned_by_member ON finding_concerned (league_id, member_id);

-- What is said of a finding: statements of those concerned, requests for what would settle it, recusals,
-- an organizer's first opinion, noted before names are shown.

CREATE TABLE finding_words (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    finding_id  UUID NOT NULL,
    kind        TEXT COLLATE "C" NOT NULL CHECK (kind IN ('statement', 'request', 'recusal', 'first_opinion')),
    member_id   UUID,
    opinion     TEXT COLLATE "C" CHECK (opinion IN ('unfair_cause', 'honest_cause', 'cannot_say')),
    text        TEXT COLLATE "C" NOT NULL,
    due_at      TEXT COLLATE "C",
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, finding_id) REFERENCES findings (league_id, id),
    CHECK ((opinion IS NULL) = (kind <> 'first_opinion'))
);
CREATE INDEX finding_words_by_finding ON finding_words (league_id, finding_id);

-- People from outside who rule on one finding and see nothing else.

CREATE TABLE reviewers (
    league_id  UUID NOT NULL,
    finding_id UUID NOT NULL,
    account_id UUID NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    since      TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, finding_id, account_id),
    FOREIGN KEY (league_id, finding_id) REFERENCES findings (league_id, id)
);

-- Practice: putts outside any round. It is the member's alone: no number of the league's, no entry in its journal, no
-- line in its bundle.

CREATE TABLE practice_blocks (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    member_id   UUID NOT NULL,
    setup_id    UUID,
    played_on   TEXT COLLATE "C" NOT NULL,
    stimp_ft    DOUBLE PRECISION NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    version     BIGINT NOT NULL DEFAULT 1,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id),
    FOREIGN KEY (league_id, setup_id) REFERENCES setups (league_id, id)
);
CREATE UNIQUE INDEX practice_blocks_by_id ON practice_blocks (id);
CREATE INDEX practice_blocks_by_member ON practice_blocks (league_id, member_id, id);

CREATE TABLE practice_putts (
    league_id       UUID NOT NULL,
    block_id        UUID NOT NULL,
    number          BIGINT NOT NULL,
    distance_ft     DOUBLE PRECISION NOT NULL,
    elevation_in    DOUBLE PRECISION,
    ball_speed_mph  DOUBLE PRECISION,
    start_line_deg  DOUBLE PRECISION,
    played_line_deg DOUBLE PRECISION,
    result          TEXT COLLATE "C" NOT NULL CHECK (result IN ('holed', 'missed')),
    leave_ft        DOUBLE PRECISION,
    PRIMARY KEY (league_id, block_id, number),
    FOREIGN KEY (league_id, block_id) REFERENCES practice_blocks (league_id, id) ON DELETE CASCADE
);

-- What the columns of a set-up's files mean, as a member said it last. It is the member's own: no number of the
-- league's, no entry in its journal, no line in its bundle.

CREATE TABLE file_columns (
    league_id  UUID NOT NULL,
    member_id  UUID NOT NULL,
    setup_id   UUID NOT NULL,
    updated_at TEXT COLLATE "C" NOT NULL,
    body       TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, member_id, setup_id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id),
    FOREIGN KEY (league_id, setup_id) REFERENCES setups (league_id, id)
);

-- The acts that outlast a restore, as this database knows them: they also stand in a file outside it. A restored copy
-- lacks those that came after it, and they are done again; a file that lacks lines is completed from here.

CREATE TABLE lasting_acts (
    id   UUID NOT NULL PRIMARY KEY,
    body TEXT NOT NULL
);

-- What every server of this database shares: the key that tokens are signed with.

CREATE TABLE server_secrets (
    name   TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    secret TEXT COLLATE "C" NOT NULL
);

-- Answers that are kept for a repeated request, in the transaction of their effect.

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
