-- The acts that outlast a restore, as this database knows them: they also stand in a file outside it. A restored copy
-- lacks those that came after it, and they are done again; a file that lacks lines is completed from here.

CREATE TABLE lasting_acts (
    id   UUID NOT NULL PRIMARY KEY,
    body TEXT NOT NULL
);
