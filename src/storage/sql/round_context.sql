SELECT e.league_id, e.season_id, l.book_mark, l.seq, l.journal_n, l.journal_hash, m.id AS member_id, m.role
FROM events e
JOIN leagues l ON l.id = e.league_id
JOIN members m ON m.league_id = e.league_id AND m.account_id = $2
WHERE e.id = $1
