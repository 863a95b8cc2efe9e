SELECT journal_n, journal_hash FROM leagues WHERE id = $1
