UPDATE rounds SET putts_excluded = $3 WHERE league_id = $1 AND id = $2
