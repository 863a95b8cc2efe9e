DELETE FROM seasons WHERE league_id = $1 AND id = $2
