SELECT league_id, id, event_id, member_id, slot, bay, competitions, seq, received_at FROM entrants WHERE league_id = $1 AND event_id = $2 ORDER BY id
