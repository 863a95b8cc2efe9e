SELECT n, entry, hash FROM journal WHERE league_id = $1 AND n > $2 ORDER BY n LIMIT $3
