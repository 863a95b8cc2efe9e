UPDATE rounds SET state = $3, version = version + 1 WHERE league_id = $1 AND id = $2
