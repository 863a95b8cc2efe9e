SELECT league_id, id, event_id, member_id, slot, bay, competitions, seq, received_at FROM entrants WHERE league_id = $1 ORDER BY seq
