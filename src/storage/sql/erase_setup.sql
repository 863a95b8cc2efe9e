UPDATE setups SET body = $3 WHERE league_id = $1 AND id = $2
