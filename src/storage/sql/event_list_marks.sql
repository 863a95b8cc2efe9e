SELECT id, shown FROM events WHERE league_id = $1 AND season_id = $2
