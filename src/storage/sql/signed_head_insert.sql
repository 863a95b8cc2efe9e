INSERT INTO journal_heads (league_id, n, at, event_id, head) VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING
