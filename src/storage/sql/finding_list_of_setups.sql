SELECT DISTINCT kind, setup_id
FROM findings
WHERE league_id = $1 AND season_id = $2 AND setup_id IS NOT NULL
