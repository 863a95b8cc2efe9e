SELECT n, hash FROM journal WHERE league_id = $1 ORDER BY n DESC LIMIT 1
