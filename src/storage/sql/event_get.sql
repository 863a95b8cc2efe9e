SELECT league_id, id, season_id AS parent_id, version, seq, received_at, body FROM events WHERE id = $1
