SELECT id, round_id, member_id, seq, received_at FROM acceptances WHERE league_id = $1 ORDER BY seq
