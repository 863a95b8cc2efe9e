-- Who sent a round, and whether it waits to be accepted.

ALTER TABLE rounds ADD COLUMN sent_by UUID;
ALTER TABLE rounds ADD COLUMN proposed BOOLEAN NOT NULL DEFAULT FALSE;
ALTER TABLE rounds ADD COLUMN late BOOLEAN NOT NULL DEFAULT FALSE;
ALTER TABLE rounds ADD COLUMN putts_excluded BOOLEAN NOT NULL DEFAULT FALSE;

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
CREATE INDEX attestations_by_round ON attestations (league_id, round_id);
CREATE INDEX withdrawals_by_round ON withdrawals (league_id, round_id);

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
