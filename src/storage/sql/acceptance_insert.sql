INSERT INTO acceptances (league_id, id, round_id, member_id, seq, received_at) VALUES ($1, $2, $3, $4, $5, $6)
