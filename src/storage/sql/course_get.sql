SELECT league_id, id, version, seq, received_at, body FROM courses WHERE id = $1
