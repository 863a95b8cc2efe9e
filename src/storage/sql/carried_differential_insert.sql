INSERT INTO carried_differentials (league_id, id, member_id, played_on, differential, source, seq, received_at)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
