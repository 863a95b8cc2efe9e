SELECT l.id, l.name, l.time_zone, l.seq, l.book_mark, l.version, l.created_seq, l.received_at, m.role, m.id AS member_id
FROM members m
JOIN leagues l ON l.id = m.league_id
WHERE m.account_id = $1 AND l.id > $2
ORDER BY l.id
LIMIT $3
