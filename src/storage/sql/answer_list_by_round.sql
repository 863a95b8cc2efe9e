SELECT a.id, a.query_id, a.member_id, a.text, a.seq, a.received_at
FROM queries q
JOIN answers a ON a.league_id = q.league_id AND a.query_id = q.id
WHERE q.league_id = $1 AND q.round_id = $2
ORDER BY a.seq
