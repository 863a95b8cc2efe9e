INSERT INTO standings_changes (league_id, season_id, id, at, member_id, act, kind, thing_id, reason, moves)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
