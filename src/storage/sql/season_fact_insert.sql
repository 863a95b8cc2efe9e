INSERT INTO season_facts (league_id, id, season_id, kind, of_id, event_id, version, seq, received_at, body)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
