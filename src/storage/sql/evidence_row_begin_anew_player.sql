DELETE FROM evidence_rows
WHERE league_id = $1 AND season_id = $2 AND member_id = $3 AND kind = $4 AND about = 'player'
