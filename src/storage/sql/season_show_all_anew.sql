UPDATE seasons SET shown = shown + 1 WHERE league_id = $1
