SELECT id, round_id, member_id, reason, seq, received_at FROM withdrawals WHERE league_id = $1 ORDER BY seq
