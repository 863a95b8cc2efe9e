SELECT hash FROM journal WHERE league_id = $1 AND n = $2
