DELETE FROM versions WHERE league_id = $1 AND kind = 'member' AND id = $2
