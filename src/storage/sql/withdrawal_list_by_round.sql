SELECT id, round_id, member_id, reason, seq, received_at FROM withdrawals WHERE league_id = $1 AND round_id = $2 ORDER BY seq
