INSERT INTO events_kept (league_id, event_id, id, seq, received_at, body) VALUES ($1, $2, $3, $4, $5, $6)
