UPDATE leagues SET journal_n = $2, journal_hash = $3 WHERE id = $1
