SELECT
    (SELECT count(*) FROM evidence_field WHERE league_id = $1 AND season_id = $2 AND about = 'player') AS players,
    (SELECT count(*) FROM evidence_field WHERE league_id = $1 AND season_id = $2 AND about = 'setup') AS setups
