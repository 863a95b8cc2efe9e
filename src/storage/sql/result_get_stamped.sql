SELECT putting, figures, stamp FROM results WHERE league_id = $1 AND member_id = $2 AND round_id = $3
