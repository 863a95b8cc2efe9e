SELECT id, query_id, member_id, text, seq, received_at FROM answers WHERE league_id = $1 ORDER BY seq
