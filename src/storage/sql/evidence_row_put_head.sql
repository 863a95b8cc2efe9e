INSERT OR REPLACE INTO evidence_rows (league_id, season_id, member_id, setup_id, kind, about, restart, state)
