SELECT league_id, id, version, seq, received_at, body FROM seasons WHERE league_id = $1 AND id > $2 ORDER BY id LIMIT $3
