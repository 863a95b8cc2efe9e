DELETE FROM entrants WHERE league_id = $1 AND id = $2
