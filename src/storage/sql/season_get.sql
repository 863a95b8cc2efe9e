SELECT league_id, id, version, seq, received_at, body FROM seasons WHERE id = $1
