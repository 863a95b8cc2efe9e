SELECT id, round_id, member_id, seq, received_at FROM attestations WHERE league_id = $1 AND round_id = $2 ORDER BY seq
