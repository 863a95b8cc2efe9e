DELETE FROM versions WHERE league_id = $1 AND kind = $2 AND id = $3
