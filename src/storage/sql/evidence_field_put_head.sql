INSERT INTO evidence_field (league_id, season_id, about, id)
VALUES
ON CONFLICT DO NOTHING
