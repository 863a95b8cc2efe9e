INSERT INTO setups (league_id, id, member_id, version, seq, received_at, body) VALUES ($1, $2, $3, $4, $5, $6, $7)
