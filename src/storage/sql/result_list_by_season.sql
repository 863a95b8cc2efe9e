SELECT putting, figures, stamp FROM results WHERE league_id = $1 AND season_id = $2 AND stamp IS NOT NULL ORDER BY member_id, round_id
