INSERT INTO evidence_digests (league_id, season_id, setup_id, kind, restart, digest) VALUES ($1, $2, $3, $4, $5, $6)
ON CONFLICT (league_id, season_id, setup_id, kind, restart) DO UPDATE SET digest = excluded.digest
