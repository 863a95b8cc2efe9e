DELETE FROM carried_results WHERE league_id = $1 AND id = $2
