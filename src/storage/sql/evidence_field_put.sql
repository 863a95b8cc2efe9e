INSERT INTO evidence_field (league_id, season_id, about, id) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING
