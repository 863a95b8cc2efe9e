DELETE FROM entrants WHERE league_id = $1 AND event_id = $2
