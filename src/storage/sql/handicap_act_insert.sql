INSERT INTO handicap_acts (league_id, id, member_id, decided, reason, seq, received_at)
VALUES ($1, $2, $3, $4, $5, $6, $7)
