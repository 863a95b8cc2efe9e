INSERT INTO cards_in_play (league_id, event_id, member_id, version, updated_at, body) VALUES ($1, $2, $3, $4, $5, $6)
ON CONFLICT (league_id, event_id, member_id) DO UPDATE
SET version = excluded.version, updated_at = excluded.updated_at, body = excluded.body
