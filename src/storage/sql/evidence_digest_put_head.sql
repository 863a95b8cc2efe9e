INSERT INTO evidence_digests (league_id, season_id, setup_id, kind, restart, digest)
VALUES
ON CONFLICT (league_id, season_id, setup_id, kind, restart) DO UPDATE SET digest = excluded.digest
