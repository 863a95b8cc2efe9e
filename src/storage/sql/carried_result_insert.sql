INSERT INTO carried_results (league_id, id, season_id, member_id, team_id, competition_id, label, value, source, seq, received_at)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)
