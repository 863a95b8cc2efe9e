SELECT member_id, round_id, stamp FROM results WHERE league_id = $1 AND event_id = $2 AND stamp IS NOT NULL
