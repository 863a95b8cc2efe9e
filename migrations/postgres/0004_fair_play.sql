-- Derived: a season's evidence. A row is one player's rounds on one set-up for one kind (`setup_id` is nil where nobody
-- said); `about` and `restart` tell whose new beginning a row serves.

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

-- What is said of a finding: statements of those concerned, requests for what would settle it, recusals.

CREATE TABLE finding_words (
    league_id   UUID NOT NULL,
    id          UUID NOT NULL,
    finding_id  UUID NOT NULL,
    kind        TEXT COLLATE "C" NOT NULL CHECK (kind IN ('statement', 'request', 'recusal')),
    member_id   UUID,
    text        TEXT COLLATE "C" NOT NULL,
    due_at      TEXT COLLATE "C",
    seq         BIGINT NOT NULL,
    received_at TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, finding_id) REFERENCES findings (league_id, id)
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
ALTER TABLE invitations ADD COLUMN finding_id UUID;
