INSERT INTO versions (league_id, kind, id, version, seq, received_at, replaced_by, reason, body)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
