DELETE FROM courses WHERE league_id = $1 AND id = $2
