UPDATE events SET shown = shown + 1 WHERE league_id = $1 AND id = $2
