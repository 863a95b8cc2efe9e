INSERT INTO answers (league_id, id, query_id, member_id, text, seq, received_at) VALUES ($1, $2, $3, $4, $5, $6, $7)
