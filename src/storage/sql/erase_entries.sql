UPDATE entrants SET slot = NULL, bay = NULL WHERE league_id = $1 AND member_id = $2
