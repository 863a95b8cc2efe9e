SELECT league_id, id, round_id, member_id, pointer, text, seq, received_at FROM queries WHERE league_id = $1 ORDER BY seq
