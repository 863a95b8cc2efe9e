INSERT INTO evidence_rows (league_id, season_id, member_id, setup_id, kind, about, restart, state)
VALUES
ON CONFLICT (league_id, season_id, member_id, setup_id, kind, about, restart) DO UPDATE SET state = excluded.state
