UPDATE leagues SET seq = $2, journal_n = $3, journal_hash = $4 WHERE id = $1
