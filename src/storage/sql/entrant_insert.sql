INSERT INTO entrants (league_id, id, event_id, member_id, slot, bay, competitions, seq, received_at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
