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
