INSERT INTO leagues (id, name, time_zone, seq, book_mark, version, created_seq, received_at)
VALUES ($1, $2, $3, $4, $5, $7, $4, $6)
