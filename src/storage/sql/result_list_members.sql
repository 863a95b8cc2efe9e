SELECT DISTINCT member_id FROM results WHERE league_id = $1
