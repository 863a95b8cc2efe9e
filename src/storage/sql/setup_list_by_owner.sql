SELECT id, body FROM setups WHERE league_id = $1 AND member_id = $2
