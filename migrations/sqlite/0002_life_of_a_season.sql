-- Who sent a round, and whether it waits to be accepted.

ALTER TABLE rounds ADD COLUMN sent_by BLOB;
ALTER TABLE rounds ADD COLUMN proposed INTEGER NOT NULL DEFAULT 0;
ALTER TABLE rounds ADD COLUMN late INTEGER NOT NULL DEFAULT 0;
ALTER TABLE rounds ADD COLUMN putts_excluded INTEGER NOT NULL DEFAULT 0;

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
CREATE INDEX attestations_by_round ON attestations (league_id, round_id);
CREATE INDEX withdrawals_by_round ON withdrawals (league_id, round_id);

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
