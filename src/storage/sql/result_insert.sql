INSERT INTO results (league_id, member_id, round_id, season_id, event_id, card, putting, figures)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
