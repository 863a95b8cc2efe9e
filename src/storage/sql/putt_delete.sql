DELETE FROM putts WHERE league_id = $1 AND round_id = $2
