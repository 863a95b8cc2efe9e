-- Derived: a season's evidence. A row is one player's rounds on one set-up for one kind (`setup_id` is empty where nobody
-- said); `about` and `restart` tell whose new beginning a row serves.

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

-- What is said of a finding: statements of those concerned, requests for what would settle it, recusals.

CREATE TABLE finding_words (
    league_id   BLOB NOT NULL,
    id          BLOB NOT NULL,
    finding_id  BLOB NOT NULL,
    kind        TEXT NOT NULL CHECK (kind IN ('statement', 'request', 'recusal')),
    member_id   BLOB,
    text        TEXT NOT NULL,
    due_at      TEXT,
    seq         INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, finding_id) REFERENCES findings (league_id, id)
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
ALTER TABLE invitations ADD COLUMN finding_id BLOB;
