INSERT INTO seasons (league_id, id, version, seq, received_at, body) VALUES ($1, $2, $3, $4, $5, $6)
