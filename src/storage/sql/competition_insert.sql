INSERT INTO competitions (league_id, id, version, seq, received_at, body, season_id) VALUES ($1, $2, $3, $4, $5, $6, $7)
