SELECT count(*) AS erased FROM members WHERE league_id = $1 AND erased_at IS NOT NULL
