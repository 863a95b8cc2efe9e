INSERT INTO events (league_id, id, season_id, version, seq, received_at, body) VALUES ($1, $2, $3, $4, $5, $6, $7)
