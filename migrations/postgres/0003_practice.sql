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
    PRIMARY KEY (league_id, id),
    FOREIGN KEY (league_id, member_id) REFERENCES members (league_id, id),
    FOREIGN KEY (league_id, setup_id) REFERENCES setups (league_id, id)
);
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
