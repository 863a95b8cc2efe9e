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
    ended_at     INTEGER,
    device       TEXT NOT NULL,
    is_browser   INTEGER NOT NULL
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

-- What an account's holder is told about the account itself, whatever leagues it is in.

CREATE TABLE account_notices (
    id         BLOB NOT NULL PRIMARY KEY,
    account_id BLOB NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    kind       TEXT NOT NULL,
    device     TEXT NOT NULL,
    at         TEXT NOT NULL,
    seen_at    TEXT
) STRICT, WITHOUT ROWID;
CREATE INDEX account_notices_by_account ON account_notices (account_id, id);

-- Codes that let the holder of an account choose a new password: made by the operator, used once. Only their hashes are
-- kept.

CREATE TABLE password_resets (
    code_hash  BLOB NOT NULL PRIMARY KEY,
    account_id BLOB NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    expires_at TEXT NOT NULL,
    spent_at   TEXT
) STRICT, WITHOUT ROWID;
CREATE INDEX password_resets_by_account ON password_resets (account_id);

-- Leagues. `seq` is the last number given to a raw fact; `book_mark` changes with everything that the derivation
-- knows of a league beside the cards; `journal_n` and `journal_hash` are the head of its journal; `weighed_seq` is the
-- number of the last fact up to which counting rounds are in the evidence.

CREATE TABLE leagues (
    id           BLOB NOT NULL PRIMARY KEY,
    name         TEXT NOT NULL,
    time_zone    TEXT NOT NULL,
    seq          INTEGER NOT NULL,
    book_mark    INTEGER NOT NULL,
    journal_n    INTEGER NOT NULL DEFAULT 0,
    journal_hash BLOB NOT NULL DEFAULT x'',
    weighed_seq  INTEGER NOT NULL DEFAULT 0,
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
    flight            TEXT,
    starting_handicap INTEGER,
    guest             INTEGER NOT NULL CHECK (guest IN (0, 1)),
    earlier_starts    TEXT NOT NULL,
    erased_at         TEXT,
    version           INTEGER NOT NULL,
    seq               INTEGER NOT NULL,
    received_at       TEXT NOT NULL,
    PRIMARY KEY (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX members_by_id ON members (id);
CREATE UNIQUE INDEX members_by_account ON members (account_id, league_id) WHERE account_id IS NOT NULL;

-- An invitation has an id beside its code, which is not kept, so that it can be listed and revoked.

CREATE TABLE invitations (
    code_hash  BLOB NOT NULL PRIMARY KEY,
    id         BLOB NOT NULL,
    league_id  BLOB REFERENCES leagues (id),
    role       TEXT,
    member_id  BLOB,
    finding_id BLOB,
    expires_at TEXT NOT NULL,
    created_by BLOB,
    spent_at   TEXT,
    revoked_at TEXT,
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX invitations_by_id ON invitations (id);
CREATE INDEX invitations_by_league ON invitations (league_id, id);

-- Addresses that whoever knows them may read without an account: a league's public pages, or a member's calendar. Only
-- hashes of their codes are kept.

CREATE TABLE secret_addresses (
    code_hash  BLOB NOT NULL PRIMARY KEY,
    id         BLOB NOT NULL,
    league_id  BLOB NOT NULL REFERENCES leagues (id),
    kind       TEXT NOT NULL CHECK (kind IN ('public', 'calendar')),
    names      TEXT CHECK (names IN ('full', 'initials')),
    member_id  BLOB NOT NULL,
    created_at TEXT NOT NULL,
    revoked_at TEXT,
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX secret_addresses_by_id ON secret_addresses (id);
CREATE INDEX secret_addresses_by_league ON secret_addresses (league_id, id);

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

CREATE TABLE competitions (
    league_id   BLOB NOT NULL REFERENCES leagues (id),
    id          BLOB NOT NULL,
    season_id   BLOB NOT NULL,
    version     INTEGER NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    body        TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX competitions_by_id ON competitions (id);

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

CREATE TABLE season_facts (
    league_id   BLOB NOT NULL REFERENCES leagues (id),
    id          BLOB NOT NULL,
    season_id   BLOB NOT NULL,
    kind        TEXT NOT NULL,
    of_id       BLOB NOT NULL,
    event_id    BLOB,
    version     INTEGER NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    body        TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX season_facts_by_id ON season_facts (id);

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
    sent_by            BLOB,
    proposed           INTEGER NOT NULL DEFAULT 0,
    late               INTEGER NOT NULL DEFAULT 0,
    putts_excluded     INTEGER NOT NULL DEFAULT 0,
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
CREATE INDEX attestations_by_round ON attestations (league_id, round_id);

CREATE TABLE acceptances (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    round_id    BLOB NOT NULL,
    member_id   BLOB,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX acceptances_by_round ON acceptances (league_id, round_id);

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
CREATE INDEX withdrawals_by_round ON withdrawals (league_id, round_id);

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

CREATE TABLE handicap_acts (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    member_id   BLOB NOT NULL,
    decided     TEXT NOT NULL,
    reason      TEXT NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE carried_results (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    season_id   BLOB NOT NULL,
    member_id   BLOB,
    team_id     BLOB,
    competition_id BLOB,
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

-- Derived: one row a round, made afresh whenever something behind it changes. `card`, `putting` and `figures` are packed
-- (src/storage/packed.rs); `figures` is null for a round that does not count. They carry a stamp that changes whenever they
-- do, so that whoever remembers them reads only what moved.

CREATE TABLE results (
    league_id BLOB NOT NULL,
    member_id BLOB NOT NULL,
    round_id  BLOB NOT NULL,
    event_id  BLOB NOT NULL,
    card      BLOB NOT NULL,
    putting   BLOB NOT NULL,
    figures   BLOB,
    stamp     INTEGER,
    PRIMARY KEY (league_id, member_id, round_id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX results_by_event ON results (league_id, event_id, stamp);

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

-- Rulings, and the rounds that each touches. A correction keeps the number of the version that it
-- replaced.

CREATE TABLE rulings (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    member_id   BLOB,
    finding_id  BLOB,
    decision    TEXT NOT NULL
        CHECK (decision IN ('correct', 'exclude_round', 'reinstate', 'exclude_putts', 'no_action')),
    reason      TEXT NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    PRIMARY KEY (league_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE ruled_rounds (
    league_id        BLOB NOT NULL,
    ruling_id        BLOB NOT NULL,
    round_id         BLOB NOT NULL,
    replaced_version INTEGER,
    PRIMARY KEY (league_id, ruling_id, round_id),
    FOREIGN KEY (league_id, ruling_id) REFERENCES rulings (league_id, id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX ruled_rounds_by_round ON ruled_rounds (league_id, round_id);

-- Doubts about a card, and their answers.

CREATE TABLE queries (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    round_id    BLOB NOT NULL,
    member_id   BLOB NOT NULL,
    pointer     TEXT,
    text        TEXT NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, round_id) REFERENCES rounds (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX queries_by_id ON queries (id);
CREATE INDEX queries_by_round ON queries (league_id, round_id);

CREATE TABLE answers (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    query_id    BLOB NOT NULL,
    member_id   BLOB NOT NULL,
    text        TEXT NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, query_id) REFERENCES queries (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX answers_by_query ON answers (league_id, query_id);

-- Who plays, and cards in play: a card in play goes when its round comes in.

CREATE TABLE entrants (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    event_id    BLOB NOT NULL,
    member_id   BLOB NOT NULL,
    slot        TEXT,
    bay         TEXT,
    competitions TEXT NOT NULL,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, event_id) REFERENCES events (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX entrants_by_id ON entrants (id);
CREATE UNIQUE INDEX entrants_one_an_event ON entrants (league_id, event_id, member_id);

CREATE TABLE cards_in_play (
    league_id  BLOB NOT NULL,
    event_id   BLOB NOT NULL,
    member_id  BLOB NOT NULL,
    version    INTEGER NOT NULL,
    updated_at TEXT NOT NULL,
    body       TEXT NOT NULL,
    PRIMARY KEY (league_id, event_id, member_id),
    FOREIGN KEY (league_id, event_id) REFERENCES events (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;

-- What concerns a member.

CREATE TABLE notices (
    league_id  BLOB NOT NULL,
    id         BLOB NOT NULL,
    member_id  BLOB NOT NULL,
    kind       TEXT NOT NULL,
    round_id   BLOB,
    query_id   BLOB,
    finding_id BLOB,
    event_id   BLOB,
    at         TEXT NOT NULL,
    seen_at    TEXT,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX notices_by_id ON notices (id);
CREATE INDEX notices_by_member ON notices (league_id, member_id, id);

-- What moved a season's table, other than a round handed in on time: who, when, why, and which rows.

CREATE TABLE standings_changes (
    league_id BLOB NOT NULL,
    season_id BLOB NOT NULL,
    id        BLOB NOT NULL,
    at        TEXT NOT NULL,
    member_id BLOB,
    act       TEXT NOT NULL,
    kind      TEXT NOT NULL,
    thing_id  BLOB NOT NULL,
    reason    TEXT,
    moves     TEXT NOT NULL,
    PRIMARY KEY (league_id, season_id, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
) STRICT, WITHOUT ROWID;

-- Derived: a season's evidence. `state` holds one player's rounds on one set-up (`setup_id` is nil where nobody said), packed
-- (src/storage/packed_evidence.rs), a row of each kind. What begins anew for a kind and somebody after a ruling is a row
-- beside it: `kind`, `about` and `restart` tell which.

CREATE TABLE evidence_rows (
    league_id BLOB NOT NULL,
    season_id BLOB NOT NULL,
    member_id BLOB NOT NULL,
    setup_id  BLOB NOT NULL,
    kind      TEXT NOT NULL,
    about     TEXT NOT NULL CHECK (about IN ('', 'player', 'setup')),
    restart   INTEGER NOT NULL,
    state     BLOB NOT NULL,
    PRIMARY KEY (league_id, season_id, member_id, setup_id, kind, about, restart),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX evidence_rows_by_setup ON evidence_rows (league_id, season_id, setup_id, kind);

CREATE TABLE evidence_digests (
    league_id BLOB NOT NULL,
    season_id BLOB NOT NULL,
    setup_id  BLOB NOT NULL,
    kind      TEXT NOT NULL,
    restart   INTEGER NOT NULL,
    digest    TEXT NOT NULL,
    PRIMARY KEY (league_id, season_id, setup_id, kind, restart),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
) STRICT, WITHOUT ROWID;

-- Who and what played in a season, whatever became of the rounds: the budget of false alarms is shared among them.

CREATE TABLE evidence_field (
    league_id BLOB NOT NULL,
    season_id BLOB NOT NULL,
    about     TEXT NOT NULL CHECK (about IN ('player', 'setup')),
    id        BLOB NOT NULL,
    PRIMARY KEY (league_id, season_id, about, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id)
) STRICT, WITHOUT ROWID;

-- Findings: that evidence crossed its threshold is a fact that stays when evidence falls.

CREATE TABLE findings (
    league_id       BLOB NOT NULL,
    id              BLOB NOT NULL,
    season_id       BLOB NOT NULL,
    kind            TEXT NOT NULL,
    member_id       BLOB,
    setup_id        BLOB,
    restart         INTEGER NOT NULL,
    event_id        BLOB NOT NULL,
    factor_log10    REAL NOT NULL,
    threshold_log10 REAL NOT NULL,
    seq             INTEGER NOT NULL,
    received_at     TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, season_id) REFERENCES seasons (league_id, id),
    FOREIGN KEY (league_id, event_id) REFERENCES events (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id),
    FOREIGN KEY (league_id, setup_id) REFERENCES setups (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX findings_by_id ON findings (id);
CREATE INDEX findings_by_setup ON findings (league_id, season_id, setup_id);

-- Whom a finding concerns: told when the notice was stored, or when an organizer noted having said it.

CREATE TABLE finding_concerned (
    league_id  BLOB NOT NULL,
    finding_id BLOB NOT NULL,
    member_id  BLOB NOT NULL,
    told_at    TEXT,
    told_by    BLOB,
    seen_at    TEXT,
    PRIMARY KEY (league_id, finding_id, member_id),
    FOREIGN KEY (league_id, finding_id) REFERENCES findings (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX finding_concerned_by_member ON finding_concerned (league_id, member_id);

-- What is said of a finding: statements of those concerned, requests for what would settle it, recusals,
-- an organizer's first opinion, noted before names are shown.

CREATE TABLE finding_words (
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
CREATE INDEX finding_words_by_finding ON finding_words (league_id, finding_id);

-- People from outside who rule on one finding and see nothing else.

CREATE TABLE reviewers (
    league_id  BLOB NOT NULL,
    finding_id BLOB NOT NULL,
    account_id BLOB NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
    since      TEXT NOT NULL,
    PRIMARY KEY (league_id, finding_id, account_id),
    FOREIGN KEY (league_id, finding_id) REFERENCES findings (league_id, id)
) STRICT, WITHOUT ROWID;

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
    version     INTEGER NOT NULL DEFAULT 1,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id),
    FOREIGN KEY (league_id, setup_id) REFERENCES setups (league_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX practice_blocks_by_id ON practice_blocks (id);
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

-- The acts that outlast a restore, as this database knows them: they also stand in a file outside it. A restored copy
-- lacks those that came after it, and they are done again; a file that lacks lines is completed from here.

CREATE TABLE lasting_acts (
    id   BLOB NOT NULL PRIMARY KEY,
    body TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- The number of the last change, and an id of this file's own: another file beside it says what was acknowledged, so that
-- a file whose log was lost is not taken for whole. PostgreSQL keeps its log itself.

CREATE TABLE commits (
    one INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
    database_id BLOB NOT NULL,
    n INTEGER NOT NULL
) STRICT;

INSERT INTO commits (one, database_id, n) VALUES (1, randomblob(16), 0);

-- Answers that are kept for a repeated request, in the transaction of their effect.

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
