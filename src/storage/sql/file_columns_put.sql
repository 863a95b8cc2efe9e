INSERT INTO file_columns (league_id, member_id, setup_id, updated_at, body) VALUES ($1, $2, $3, $4, $5)
ON CONFLICT (league_id, member_id, setup_id) DO UPDATE SET updated_at = excluded.updated_at, body = excluded.body
