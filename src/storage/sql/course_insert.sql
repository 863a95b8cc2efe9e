-- $3, a parent, is none here.
INSERT INTO courses (league_id, id, version, seq, received_at, body)
SELECT $1, $2, $4, $5, $6, $7 WHERE $3 IS NULL
