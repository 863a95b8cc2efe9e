INSERT INTO withdrawals (league_id, id, round_id, member_id, reason, seq, received_at) VALUES ($1, $2, $3, $4, $5, $6, $7)
