DELETE FROM evidence_rows
WHERE league_id = $1 AND season_id = $2 AND setup_id = $3 AND kind = $4 AND about = 'setup'
