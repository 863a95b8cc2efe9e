UPDATE results SET card = $4, putting = $5 WHERE league_id = $1 AND member_id = $2 AND round_id = $3
