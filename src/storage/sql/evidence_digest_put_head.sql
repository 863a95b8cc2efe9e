INSERT OR REPLACE INTO evidence_digests (league_id, season_id, setup_id, kind, restart, digest)
