INSERT INTO notices (league_id, id, member_id, kind, round_id, query_id, finding_id, event_id, at)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
