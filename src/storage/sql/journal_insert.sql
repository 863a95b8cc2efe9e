INSERT INTO journal (league_id, n, entry, hash) VALUES ($1, $2, $3, $4)
