SELECT league_id, id, season_id AS parent_id, version, seq, received_at, body FROM competitions WHERE league_id = $1 AND id > $2 ORDER BY id LIMIT $3
