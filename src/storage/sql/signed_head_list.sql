SELECT head FROM journal_heads WHERE league_id = $1 ORDER BY n
