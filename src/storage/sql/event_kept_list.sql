SELECT event_id, id, seq, received_at, body FROM events_kept WHERE league_id = $1 ORDER BY seq
