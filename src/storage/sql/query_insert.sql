INSERT INTO queries (league_id, id, round_id, member_id, pointer, text, seq, received_at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
