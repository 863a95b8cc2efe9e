UPDATE season_facts SET version = $3, seq = $4, received_at = $5, body = $6 WHERE league_id = $1 AND id = $2
