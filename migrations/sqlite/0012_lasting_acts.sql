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
