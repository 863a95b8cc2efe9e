DELETE FROM carried_differentials WHERE league_id = $1 AND id = $2
