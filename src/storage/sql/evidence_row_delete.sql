DELETE FROM evidence_rows
WHERE league_id = $1 AND season_id = $2 AND member_id = $3 AND setup_id = $4 AND kind = $5 AND about = $6 AND restart = $7
