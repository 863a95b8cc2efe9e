INSERT INTO rulings (league_id, id, member_id, finding_id, decision, reason, seq, received_at)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
