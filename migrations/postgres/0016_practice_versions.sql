-- A block of practice can be mended and thrown away by its member: it is found by its id and has a version.

ALTER TABLE practice_blocks ADD COLUMN version BIGINT NOT NULL DEFAULT 1;
CREATE UNIQUE INDEX practice_blocks_by_id ON practice_blocks (id);
