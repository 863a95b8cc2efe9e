SELECT league_id, id, season_id AS parent_id, version, seq, received_at, body FROM competitions WHERE id = $1
