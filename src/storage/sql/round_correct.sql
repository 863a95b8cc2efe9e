UPDATE rounds
SET setup_id = $3, played_on = $4, outcome = $5, state = $6, version = version + 1, version_seq = $7, version_at = $8
WHERE league_id = $1 AND id = $2
