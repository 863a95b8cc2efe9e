-- Which of the acts that outlast a restore this database knows: they stand in a file outside it. A restored copy lacks
-- those that came after it, and they are done again.

CREATE TABLE lasting_acts (
    id BLOB NOT NULL PRIMARY KEY
) STRICT, WITHOUT ROWID;
