-- Evidence takes rounds in soon after they came in, many at once: `weighed_seq` is the number of the last fact up to which
-- counting rounds are in it.

ALTER TABLE leagues ADD COLUMN weighed_seq INTEGER NOT NULL DEFAULT 0;
UPDATE leagues SET weighed_seq = seq;
