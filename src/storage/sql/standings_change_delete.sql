DELETE FROM standings_changes WHERE league_id = $1 AND season_id = $2
