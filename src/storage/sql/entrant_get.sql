SELECT league_id, id, event_id, member_id, slot, bay, competitions, seq, received_at FROM entrants WHERE id = $1
