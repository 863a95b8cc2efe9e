INSERT INTO journal (league_id, n, entry, hash)
